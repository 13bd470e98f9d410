//! `rubstone render`.

use std::fs;

use examine::{ExamineError, RenderOptions, Watch, shown};
use wire::answers::{RenderAnswer, RenderedForm};

use super::json;
use crate::args::Render;
use crate::outcome::{About, Outcome, Stop};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Render) -> Result<Outcome, Stop> {
    let disk =
        |e: std::io::Error| ExamineError::request(format!("cannot be written ({e}); choose another folder"));
    fs::create_dir_all(&args.dest).map_err(disk).about(&args.dest)?;
    let progress = Progress::new();
    let n_pictures = args.finish.len() as f64 * f64::from(args.count);
    let mut pictures = Vec::new();
    for finish in &args.finish {
        for number in 0..args.count {
            let seed = args.seed.wrapping_add(u64::from(number));
            let name = format!("{finish}-{seed}");
            progress.at(pictures.len() as f64 / n_pictures, &name);
            let options = RenderOptions {
                finish: finish.clone(),
                stone: args.stone.clone(),
                instrument: args.instrument.clone(),
                width_px: args.width,
                height_px: args.height,
                um_per_px: args.um_per_px,
                grain_um: args.grain_um,
                blur_px: args.blur_px,
                light_azimuth_deg: args.light_azimuth,
                seed,
            };
            let rendering = examine::render(&options, &format!("{name}.png"))?;
            let (picture, truth) =
                (args.dest.join(format!("{name}.png")), args.dest.join(format!("{name}.json")));
            fs::write(&picture, &rendering.png).map_err(disk).about(&picture)?;
            fs::write(&truth, &rendering.truth).map_err(disk).about(&truth)?;
            pictures.push(RenderedForm { picture: shown(&picture), truth: shown(&truth) });
        }
    }
    drop(progress);
    if args.json {
        json!(&RenderAnswer { schema: "rubstone.render/1", pictures });
    } else {
        pictures.iter().for_each(|picture| say::result(&picture.picture));
    }
    Ok(Outcome::default())
}
