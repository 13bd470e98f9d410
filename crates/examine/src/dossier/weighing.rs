//! The weighing kept in an examination as the report prints it.

use finish::models::Finish;
use picture::{Light, Rgb};
use rayon::prelude::*;
use report::dossier::{
    FinishRow, Group, Image, ImageKind, NoneFits, Pair, SensitivityRow, Simulated, TypedPrior, Weighing,
};
use wire::weigh::{KeptWeighing, PairForm, SensitivityForm};

use super::{SHOWN_QUALITY, SHOWN_SIDE_PX};
use crate::describe::Read;
use crate::render::RenderOptions;

/// Shows what each finish would have looked like in the field of one capture: same field, sharpness and light, invented
/// stone. A finish that cannot be rendered goes without its picture.
pub(super) fn simulate(weighing: &mut Weighing, like: &Read, label: &str, light: Light) {
    let Some(scale) = like.scale else { return };
    let (width_px, height_px) = (like.capture.width_px, like.capture.height_px);
    // Rendered as large as it is printed: the field keeps its size, the pixels grow.
    let shrink = (width_px.max(height_px) as f64 / SHOWN_SIDE_PX as f64).max(1.0);
    let side = |side_px: u32| (f64::from(side_px) / shrink).round().max(16.0) as u32;
    let focus = like.standing.kept.as_ref().and_then(|kept| kept.quality.focus_sigma_px);
    let (instrument, light_azimuth_deg) = match light {
        Light::Azimuth(axis) => ("hand-held", axis.degrees()),
        Light::Ring => ("ring-held", 0.0),
        Light::Coaxial => ("coaxial", 0.0),
        Light::Unknown => ("hand-held", RenderOptions::default().light_azimuth_deg),
    };
    let pictures: Vec<Option<(Image, Strokes)>> = weighing
        .finishes
        .par_iter()
        .map(|row| {
            image(&RenderOptions {
                finish: row.name.clone(),
                instrument: instrument.to_owned(),
                width_px: side(width_px),
                height_px: side(height_px),
                um_per_px: scale.value() * shrink,
                blur_px: focus.map(|focus| focus.value / shrink),
                light_azimuth_deg,
                seed: weighing.seed,
                ..RenderOptions::default()
            })
        })
        .collect();
    for (row, picture) in weighing.finishes.iter_mut().zip(pictures) {
        row.simulated = picture.map(|(picture, strokes_px)| Simulated {
            picture,
            strokes_px,
            like_capture: label.to_owned(),
            field_width_mm: Some(f64::from(width_px) * scale.value() / 1000.0),
        });
    }
}

/// Centre lines of strokes, px.
type Strokes = Vec<Vec<[f64; 2]>>;

/// Points of a stroke that its drawing keeps: an arc is smooth at the size of a page.
const STROKE_POINTS: usize = 12;

/// A picture of the finish, and the strokes on it.
fn image(options: &RenderOptions) -> Option<(Image, Strokes)> {
    let rendered = crate::render::scene(options).ok()?;
    let rgb = Rgb::from_grey(&rendered.grey)?;
    let bytes = rgb.to_jpeg(SHOWN_QUALITY).ok()?;
    let image = Image { kind: ImageKind::Jpeg, bytes, width_px: rgb.width(), height_px: rgb.height() };
    let thinned = |points: &[[f64; 2]]| {
        let step = points.len().div_ceil(STROKE_POINTS).max(1);
        points.iter().step_by(step).chain(points.last()).copied().collect()
    };
    Some((image, rendered.truth.scratches.iter().map(|scratch| thinned(&scratch.points_px)).collect()))
}

pub(crate) fn weighing(kept: &KeptWeighing) -> Weighing {
    let form = &kept.weighing;
    let pairs = form.pairs.iter().zip(&kept.pair_words);
    Weighing {
        cannot: None,
        finishes: form
            .finishes
            .iter()
            .map(|row| FinishRow {
                name: row.name.clone(),
                title: row.name.replace('-', " "),
                model: Finish::named(&row.name).map_or(String::new(), |f| f.model().sentence().to_owned()),
                log10_likelihood_relative: Some(row.log10_likelihood_relative),
                simulated: None,
            })
            .collect(),
        cannot_tell_apart: form
            .cannot_tell_apart
            .iter()
            .map(|names| Group { names: names.clone(), why: why(names, kept) })
            .collect(),
        pairs: pairs.map(|(pair, words)| printed(pair, words)).collect(),
        none_fits: Some(NoneFits {
            p: form.none_fits.p,
            because: form.none_fits.because.clone(),
            flagged: kept.none_fits_flagged,
        }),
        sensitivity: form.sensitivity.iter().filter_map(|row| sensitivity(row, &form.pairs)).collect(),
        typed_priors: kept
            .posterior
            .iter()
            .map(|(name, prior, posterior)| TypedPrior {
                name: name.clone(),
                prior: *prior,
                posterior: *posterior,
            })
            .collect(),
        cap_log10: None,
        words_source: kept.scale_citation.clone(),
        seed: form.seed,
        simulations: form.simulations as u64,
        stations: Some(kept.stations.clone()).filter(|words| !words.is_empty()),
        cautions: kept.notes.clone(),
    }
}

/// Why a group cannot be told apart: what its first pair that says nothing gives as the reason.
fn why(names: &[String], kept: &KeptWeighing) -> String {
    let within = |pair: &PairForm| names.contains(&pair.a) && names.contains(&pair.b);
    let reasons = kept.weighing.pairs.iter().zip(&kept.pair_because);
    reasons
        .filter(|(pair, _)| within(pair))
        .find_map(|(_, because)| because.clone())
        .unwrap_or_else(|| "their ratios are too close to 1".to_owned())
}

fn printed(pair: &PairForm, words: &str) -> Pair {
    let (for_, over) = if pair.log10_lr >= 0.0 { (&pair.a, &pair.b) } else { (&pair.b, &pair.a) };
    let told = words.contains("support");
    Pair {
        a: pair.a.clone(),
        b: pair.b.clone(),
        log10_lr: pair.log10_lr,
        low: pair.low,
        high: pair.high,
        words: if told { format!("{words} for {for_} over {over}") } else { words.to_owned() },
    }
}

/// The pair that one change moves most.
fn sensitivity(row: &SensitivityForm, pairs: &[PairForm]) -> Option<SensitivityRow> {
    let moved = |(pair, after): &(&PairForm, &f64)| (*after - pair.log10_lr).abs();
    let (pair, after) =
        pairs.iter().zip(&row.log10_lr).max_by(|first, second| moved(first).total_cmp(&moved(second)))?;
    Some(SensitivityRow {
        change: row.left_out.clone(),
        a: pair.a.clone(),
        b: pair.b.clone(),
        before: pair.log10_lr,
        after: *after,
    })
}
