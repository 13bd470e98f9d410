//! Measures the tracer: follows known strokes of rendered captures into their traces and prints `Tracer::MEASURED` anew.

use crate::captures::{self, Capture};
use crate::fates::{Fates, Followed, Stray, follow};
use crate::regress::{Logistic, logistic, straight};
use weigh::beside::Facts;
use weigh::geometry::Lit;
use weigh::tracer::{Breaking, Finding, LONG_LOSS_PX, Strays, Tracer, Trimming, Wandering, Widths};

/// Log of the distance from its stroke beyond which a trace went astray (the histogram has its gap there).
const ASTRAY_LN: f64 = 1.2;
/// Found strokes of a picture from which on pieced traces are counted.
const FREE_OF_PIECED: f64 = 10.0;

/// Half of a normal distribution lies within this many standard deviations.
const HALF_WITHIN: f64 = 0.674;

/// Fits the captures of `folder` (those of every other object, so that the others remain for tests) and prints the table.
///
/// # Errors
/// In words: no captures.
pub fn run(folder: &str) -> Result<(), String> {
    let captures: Vec<Capture> =
        captures::read(folder)?.into_iter().filter(Capture::is_for_fitting).collect();
    let fates: Vec<Fates> = captures.iter().map(fates_of).collect();
    println!(
        "// Measured on {} captures with {} strokes.",
        fates.len(),
        fates.iter().map(|f| f.strokes.len()).sum::<usize>()
    );
    let measured = Tracer {
        finding: finding(&fates),
        trimming: trimming(&fates),
        breaking: breaking(&fates),
        wandering: wandering(&fates),
        widths: widths(&fates),
        strays: strays(&fates),
    };
    println!("{measured:#.3?}");
    Ok(())
}

/// What became of the strokes of one capture.
pub fn fates_of(capture: &Capture) -> Fates {
    let geometry = captures::geometry(capture.instrument, 1);
    let field = geometry.fields[0];
    let light = match field.light {
        Lit::Side(axis) => axis,
        Lit::Around | Lit::Unknown => 0.0,
    };
    follow(capture, &field, light)
}

fn finding(fates: &[Fates]) -> Finding {
    let (mut terms, mut yes, mut groups) = (Vec::new(), Vec::new(), Vec::new());
    for (picture, fates) in fates.iter().enumerate() {
        for fate in &fates.strokes {
            let Facts { ln_length: l, ln_width: w, along_light, wider_beside, narrower_beside, .. } =
                fate.facts;
            terms.push(vec![1.0, l, l * l, w, w * w, along_light, wider_beside, narrower_beside]);
            yes.push(!fate.stretches.is_empty());
            groups.push(picture);
        }
    }
    let Logistic { beta, group_sd } = logistic(&terms, &yes, &groups, fates.len());
    Finding {
        constant: beta[0],
        per_log_length: [beta[1], beta[2]],
        per_log_width: [beta[3], beta[4]],
        along_light: beta[5],
        wider_beside: beta[6],
        narrower_beside: beta[7],
        picture_sd: group_sd,
    }
}

fn trimming(fates: &[Fates]) -> Trimming {
    let (mut terms, mut groups, mut much, mut lengths) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let (mut little, mut shares) = (Vec::new(), Vec::new());
    for (picture, fates) in fates.iter().enumerate() {
        for fate in &fates.strokes {
            let (Some(first), Some(last)) = (fate.stretches.first(), fate.stretches.last()) else { continue };
            let facts = &fate.facts;
            for lost in [first[0], facts.length_px - last[1]].map(|px| px.max(0.0)) {
                let w = facts.ln_width;
                terms.push(vec![1.0, facts.ln_length, w, w * w, facts.wider_beside]);
                groups.push(picture);
                much.push(lost > LONG_LOSS_PX);
                if lost <= LONG_LOSS_PX {
                    little.push(lost);
                } else if facts.length_px > lost {
                    shares.push((lost / LONG_LOSS_PX).ln() / (facts.length_px / LONG_LOSS_PX).ln());
                }
            }
            lengths.extend(fate.stretches.iter().map(|s| s[1] - s[0]));
        }
    }
    let fit = logistic(&terms, &much, &groups, fates.len());
    Trimming {
        constant: fit.beta[0],
        per_log_length: fit.beta[1],
        per_log_width: [fit.beta[2], fit.beta[3]],
        wider_beside: fit.beta[4],
        picture_sd: fit.group_sd,
        // A random number to the power a has the mean 1/(1 + a).
        little: LONG_LOSS_PX / mean(little.iter().copied()).max(1e-9) - 1.0,
        much: 1.0 / mean(shares.iter().copied()).max(1e-9) - 1.0,
        shortest_px: quantile(lengths, 0.01),
    }
}

fn breaking(fates: &[Fates]) -> Breaking {
    let (mut gaps, mut followed_px) = (Vec::new(), 0.0);
    for stretches in fates.iter().flat_map(|fates| &fates.strokes).map(|fate| &fate.stretches) {
        followed_px += stretches.iter().map(|s| s[1] - s[0]).sum::<f64>();
        gaps.extend(stretches.windows(2).map(|s| s[1][0] - s[0][1]).filter(|gap| *gap > 0.0));
    }
    let logs: Vec<f64> = gaps.iter().map(|gap: &f64| gap.max(2.0).ln()).collect();
    Breaking {
        per_300_px: gaps.len() as f64 / (followed_px / 300.0),
        gap_px: [quantile(gaps, 0.5), sd(&logs)],
    }
}

fn wandering(fates: &[Fates]) -> Wandering {
    let (mut usual, mut far) = (Vec::new(), Vec::new());
    for (picture, fates) in fates.iter().enumerate() {
        for trace in &fates.followed {
            (if size_ln(trace) < ASTRAY_LN { &mut usual } else { &mut far }).push((picture, trace));
        }
    }
    let long = |trace: &Followed| (trace.length_px / 300.0).ln();
    let terms = |(_, t): &(usize, &Followed)| vec![1.0, long(t), t.facts.ln_width];
    let groups: Vec<usize> = usual.iter().map(|(picture, _)| *picture).collect();
    let sizes: Vec<f64> = usual.iter().map(|(_, t)| size_ln(t)).collect();
    let fit = straight(&usual.iter().map(terms).collect::<Vec<_>>(), &sizes, &groups, fates.len());
    let all: Vec<&Followed> = usual.iter().chain(&far).map(|(_, t)| *t).collect();
    let astray: Vec<bool> = all.iter().map(|t| size_ln(t) >= ASTRAY_LN).collect();
    let one = vec![0; all.len()];
    let lengths: Vec<Vec<f64>> = all.iter().map(|t| vec![1.0, long(t)]).collect();
    let odds = logistic(&lengths, &astray, &one, 1).beta;
    let scatter: Vec<f64> = all.iter().map(|t| t.scatter.max(1e-3).ln()).collect();
    let causes: Vec<Vec<f64>> =
        all.iter().map(|t| vec![1.0, long(t), t.facts.ln_width, size_ln(t)]).collect();
    let pictures: Vec<usize> = usual.iter().chain(&far).map(|(picture, _)| *picture).collect();
    let left = straight(&causes, &scatter, &pictures, fates.len());
    let far_ln: Vec<f64> = far.iter().map(|(_, t)| size_ln(t)).collect();
    let far_lengths: Vec<Vec<f64>> = far.iter().map(|(_, t)| vec![1.0, long(t)]).collect();
    let away = straight(&far_lengths, &far_ln, &vec![0; far.len()], 1);
    let shares = |traces: &[(usize, &Followed)]| {
        let share =
            |k: usize| mean(traces.iter().map(|(_, t)| t.shape[k].powi(2) / (2.0 * size_ln(t)).exp()));
        [share(0), share(1), share(2)]
    };
    Wandering {
        constant: fit.beta[0],
        per_log_length: fit.beta[1],
        per_log_width: fit.beta[2],
        sd: fit.sd,
        picture_sd: fit.group_sd,
        astray: [odds[0], odds[1]],
        astray_ln: [away.beta[0], away.beta[1], away.sd],
        shares: [shares(&usual), shares(&far)],
        scatter: [left.beta[0], left.beta[1], left.beta[2], left.beta[3], left.sd],
        scatter_picture_sd: left.group_sd,
    }
}

/// Log of how far a trace leaves its stroke.
fn size_ln(trace: &Followed) -> f64 {
    trace.shape.iter().map(|px| px * px).sum::<f64>().sqrt().max(1e-3).ln()
}

fn widths(fates: &[Fates]) -> Widths {
    let (mut terms, mut read, mut groups) = (Vec::new(), Vec::new(), Vec::new());
    for (picture, fates) in fates.iter().enumerate() {
        for trace in &fates.followed {
            let w = trace.ln_width;
            terms.push(vec![1.0, w, w * w, w * w * w]);
            read.push(trace.ln_width_read);
            groups.push(picture);
        }
    }
    let fit = straight(&terms, &read, &groups, fates.len());
    Widths {
        ln_px: [fit.beta[0], fit.beta[1], fit.beta[2], fit.beta[3]],
        sd: fit.sd,
        ln_sd_sd: fit.ln_sd_sd,
        picture_sd: fit.group_sd,
    }
}

fn strays(fates: &[Fates]) -> Strays {
    let numbers: Vec<f64> =
        fates.iter().map(|f| f.strays.iter().filter(|s| !s.pieced).count() as f64).collect();
    let average = mean(numbers.iter().copied());
    // Beyond a Poisson process: variance = mean + (mean · relative spread)².
    let relative = ((sd(&numbers).powi(2) - average).max(0.0)).sqrt() / average.max(1e-9);
    let ln_sd = (1.0 + relative * relative).ln().sqrt();
    let all: Vec<&Stray> = fates.iter().flat_map(|f| &f.strays).collect();
    let (pieced, stone): (Vec<&Stray>, Vec<&Stray>) = all.iter().copied().partition(|s| s.pieced);
    let beyond: f64 = fates
        .iter()
        .map(|f| f.strokes.iter().filter(|s| !s.stretches.is_empty()).count() as f64 - FREE_OF_PIECED)
        .map(|n| n.max(0.0))
        .sum();
    let lengths = |of: &[&Stray]| {
        let lengths: Vec<f64> = of.iter().map(|s| s.length_px).collect();
        [quantile(lengths.clone(), 0.5), sd(&lengths.iter().map(|l| l.ln()).collect::<Vec<_>>())]
    };
    let bent = |of: &[&Stray]| {
        [1, 2].map(|k| {
            quantile(of.iter().map(|s| (s.shape[k] / s.length_px).abs()).collect(), 0.5) / HALF_WITHIN
        })
    };
    let scatter = |of: &[&Stray]| quantile(of.iter().map(|s| s.scatter / s.length_px).collect(), 0.5);
    let widths: Vec<f64> = all.iter().map(|s| s.width_px).collect();
    Strays {
        stone: [average * (-0.5 * ln_sd * ln_sd).exp(), ln_sd],
        pieced_per_found: pieced.len() as f64 / beyond.max(1.0),
        length_px: [lengths(&stone), lengths(&pieced)],
        bent: [bent(&stone), bent(&pieced)],
        scatter: [scatter(&stone), scatter(&pieced)],
        off_deg: quantile(pieced.iter().map(|s| s.off_deg).collect(), 0.5) / HALF_WITHIN,
        width_px: [quantile(widths.clone(), 0.5), sd(&widths.iter().map(|w| w.ln()).collect::<Vec<_>>())],
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
    sum / f64::max(n, 1.0)
}

fn sd(values: &[f64]) -> f64 {
    let average = mean(values.iter().copied());
    mean(values.iter().map(|v| (v - average).powi(2))).sqrt()
}

fn quantile(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = (share * values.len().saturating_sub(1) as f64).round() as usize;
    values.get(place).copied().unwrap_or(f64::NAN)
}
