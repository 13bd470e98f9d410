//! From measures to a verdict with reasons in plain words.

use super::level::Level;
use super::{Quality, Verdict};
use crate::Facts;

/// Smallest side on which anything can be judged: two neighbourhoods of a trace (ours).
const LEAST_SIDE_PX: usize = 64;
/// A picture whose middle 98 % of values span less than one 8-bit step shows nothing.
const LEAST_SPREAD: f64 = 1.0 / 255.0;
/// Limits of clipping, as shares of all pixels (ours).
const CLIPPED_CARE: f64 = 0.02;
const CLIPPED_UNUSABLE: f64 = 0.3;
/// Fall-off of the light that dims scratches on one side (ours).
const UNEVEN_CARE: f64 = 0.5;
/// Blur at which scratches of 2 and of 10 pixels fade into the stone (ours).
const SOFT_PX: f64 = 2.5;
const UNFOCUSED_PX: f64 = 6.0;
/// Steps of the compression grid, as a share of the typical step, that fake lines (ours).
const BLOCKS_UNUSABLE: f64 = 0.6;
/// Noise that hides faint scratches, as a share of the full range (ours).
const NOISY: f64 = 0.06;
/// Sensor lines count from this share of the noise (ours: then 100 pixels of a row stand out at three times their noise).
const LINES_CARE: f64 = 0.3;

pub(super) fn weigh_up(quality: &mut Quality, facts: &Facts, level: &Level) {
    let findings =
        size_and_tone(quality, facts, level).into_iter().chain(sharpness(quality)).chain(artefacts(quality));
    let findings: Vec<(Verdict, String)> = findings.collect();
    for (verdict, reason) in findings {
        quality.verdict = quality.verdict.max(verdict);
        quality.reasons.push(reason);
    }
}

fn size_and_tone(quality: &Quality, facts: &Facts, level: &Level) -> Vec<(Verdict, String)> {
    let mut found = Vec::new();
    if facts.width_px.min(facts.height_px) < LEAST_SIDE_PX {
        let size = format!("{} × {} pixels", facts.width_px, facts.height_px);
        found.push((
            Verdict::NotUsable,
            format!("with {size} the picture is too small to judge or to measure"),
        ));
    }
    if level.spread < LEAST_SPREAD {
        found
            .push((Verdict::NotUsable, "the picture is of one even tone: nothing is drawn on it".to_owned()));
        return found;
    }
    let percent = 100.0 * quality.clipped_share;
    if quality.clipped_share > CLIPPED_UNUSABLE {
        found.push((
            Verdict::NotUsable,
            format!("{percent:.0} % of the pixels are fully black or white: expose anew"),
        ));
    } else if quality.clipped_share > CLIPPED_CARE {
        found.push((
            Verdict::UsableWithCare,
            format!("{percent:.0} % of the pixels are fully black or white: marks in them are lost"),
        ));
    }
    if quality.unevenness > UNEVEN_CARE {
        let percent = 100.0 * quality.unevenness;
        found.push((Verdict::UsableWithCare, format!("the light falls off by {percent:.0} % of its mean across the picture: faint marks show on one side only")));
    }
    if quality.noise_sigma > NOISY {
        let percent = 100.0 * quality.noise_sigma;
        found.push((Verdict::UsableWithCare, format!("the picture is noisy (standard deviation {percent:.1} % of the full range): faint marks are lost")));
    }
    found
}

fn sharpness(quality: &Quality) -> Vec<(Verdict, String)> {
    if let Some(motion) = quality.motion {
        let (length, direction) = (motion.length_px, motion.direction.degrees());
        return vec![(
            Verdict::NotUsable,
            format!(
                "the camera or the object moved by {length:.0} px along {direction:.0}° during the exposure: every speck is drawn out into a line, which fakes a lay in that direction"
            ),
        )];
    }
    match quality.focus_sigma_px {
        Some(blur) if blur.value > UNFOCUSED_PX => {
            vec![(
                Verdict::NotUsable,
                format!(
                    "the picture is out of focus: its edges are blurred by {blur} px (standard deviation)"
                ),
            )]
        }
        Some(blur) if blur.value > SOFT_PX => {
            vec![(
                Verdict::UsableWithCare,
                format!(
                    "the picture is soft: its edges are blurred by {blur} px (standard deviation), so thin scratches are lost"
                ),
            )]
        }
        Some(_) => Vec::new(),
        None => vec![(
            Verdict::UsableWithCare,
            "no edge is strong enough to tell whether the picture is in focus".to_owned(),
        )],
    }
}

fn artefacts(quality: &Quality) -> Vec<(Verdict, String)> {
    let mut found = Vec::new();
    if let Some(blocks) = quality.blocks {
        let verdict =
            if blocks.strength > BLOCKS_UNUSABLE { Verdict::NotUsable } else { Verdict::UsableWithCare };
        let (period, percent) = (blocks.period_px, 100.0 * blocks.strength);
        found.push((
            verdict,
            format!("compression has left a grid every {period:.1} px (steps {percent:.0} % above those elsewhere): lines along 0° and 90° may be its work; use the original file or a higher quality"),
        ));
    }
    if let Some(lines) = quality.sensor_rows {
        let strongest = lines.rows.max(lines.columns);
        if strongest > LINES_CARE * quality.noise_sigma {
            let which = if lines.rows >= lines.columns { "rows" } else { "columns" };
            let direction = if lines.rows >= lines.columns { 0 } else { 90 };
            found.push((
                Verdict::UsableWithCare,
                format!("whole {which} of the picture are offset against each other (standard deviation {:.2} % of the full range): lines along {direction}° may be the sensor's", 100.0 * strongest),
            ));
        }
    }
    found
}
