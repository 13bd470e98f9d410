//! Measures the detection model: which true scratches of rendered pictures the tracer finds, by length, width and contrast.

use finish::render::render;
use picture::{Light, Limits};
use rubstone_benches::sets::{Which, cases};
use rubstone_benches::traces::score::Key;
use std::collections::BTreeSet;
use trace::{Settings, find};

/// Share of a found line that must lie on one scratch.
const SHARE: f64 = 0.6;
/// Shortest visible length that counts as a scratch to be found, px.
const SHORTEST_PX: f64 = 10.0;

/// One true scratch.
struct Seen {
    /// 1, ln length, ln width, ln contrast.
    terms: [f64; 4],
    found: bool,
}

/// Prints the coefficients and the share found in bands of length.
///
/// # Errors
/// In words: a picture that could not be rendered or traced.
pub fn run(most_pictures: usize) -> Result<(), String> {
    let mut all: Vec<Seen> = Vec::new();
    for case in cases(Which::Dev).into_iter().take(most_pictures) {
        let rendered = render(&case.scene, case.seed).map_err(|e| format!("{}: {e}", case.name))?;
        let png = rendered.grey.to_png8().map_err(|e| format!("{}: {e}", case.name))?;
        let picture = picture::read(&png, &case.name, &Limits::default()).map_err(|e| e.to_string())?;
        let quality = picture::judge(&picture.grey, &picture.facts);
        let settings = Settings { light: Light::Unknown, ..Settings::default() };
        let found =
            find(&picture.grey, &quality, &settings, &|_| true).map_err(|e| format!("{}: {e}", case.name))?;
        let key = Key::new(&rendered.truth, case.scene.width_px, case.scene.height_px);
        let owners: BTreeSet<usize> = found
            .traces
            .iter()
            .filter_map(|trace| key.owner(&trace.points_px, SHARE))
            .map(|owner| owner.0)
            .collect();
        for (index, scratch) in rendered.truth.scratches.iter().enumerate() {
            if scratch.visible_px >= SHORTEST_PX && scratch.cnr > 0.0 {
                let terms = [1.0, scratch.visible_px.ln(), scratch.width_px.ln(), scratch.cnr.ln()];
                all.push(Seen { terms, found: owners.contains(&index) });
            }
        }
        eprintln!(
            "{}: {} traces, {} of {} scratches",
            case.name,
            found.traces.len(),
            owners.len(),
            rendered.truth.scratches.len()
        );
    }
    let fitted = logistic(&all);
    println!(
        "| detection | ln odds = {:.2} + {:.2} ln length px + {:.2} ln width px + {:.2} ln contrast | {} scratches |",
        fitted[0],
        fitted[1],
        fitted[2],
        fitted[3],
        all.len()
    );
    table(&all, &fitted);
    let mut contrasts: Vec<f64> = all.iter().map(|seen| seen.terms[3]).collect();
    contrasts.sort_by(f64::total_cmp);
    let at =
        |share: f64| contrasts.get((share * contrasts.len() as f64) as usize).map_or(f64::NAN, |c| c.exp());
    println!(
        "| contrast of the scratches: 10 %, 50 %, 90 % | | {:.2}, {:.2}, {:.2} |",
        at(0.1),
        at(0.5),
        at(0.9)
    );
    Ok(())
}

/// Bands of visible length, px, and of contrast.
const LENGTHS: [f64; 5] = [10.0, 80.0, 160.0, 400.0, 1e5];
const CONTRASTS: [f64; 5] = [0.0, 0.7, 1.5, 3.0, 1e5];

/// Prints scratches, found ones and what the fitted curve leads one to expect, by length and contrast.
fn table(all: &[Seen], fitted: &[f64; 4]) {
    for length in LENGTHS.windows(2) {
        for contrast in CONTRASTS.windows(2) {
            let band: Vec<&Seen> = all
                .iter()
                .filter(|seen| {
                    let (l, c) = (seen.terms[1].exp(), seen.terms[3].exp());
                    (length[0]..length[1]).contains(&l) && (contrast[0]..contrast[1]).contains(&c)
                })
                .collect();
            let hits = band.iter().filter(|seen| seen.found).count();
            let expected: f64 = band
                .iter()
                .map(|seen| seen.terms.iter().zip(fitted).map(|(x, b)| x * b).sum::<f64>())
                .map(|odds| 1.0 / (1.0 + (-odds).exp()))
                .sum();
            println!(
                "| found, {}-{} px long, contrast {}-{} (expected) | | {hits} of {} ({expected:.0}) |",
                length[0],
                length[1],
                contrast[0],
                contrast[1],
                band.len()
            );
        }
    }
}

/// Logistic regression by Newton steps with a weak ridge.
#[allow(clippy::needless_range_loop, reason = "indices of a matrix read better than zipped iterators")]
fn logistic(all: &[Seen]) -> [f64; 4] {
    let mut beta = [0.0; 4];
    for _ in 0..25 {
        let mut gradient = beta.map(|b| -0.01 * b);
        let mut hessian = [[0.0; 4]; 4];
        for seen in all {
            let score: f64 = seen.terms.iter().zip(&beta).map(|(x, b)| x * b).sum();
            let p = 1.0 / (1.0 + (-score).exp());
            for i in 0..4 {
                gradient[i] += (f64::from(u8::from(seen.found)) - p) * seen.terms[i];
                for j in 0..4 {
                    hessian[i][j] += p * (1.0 - p) * seen.terms[i] * seen.terms[j];
                }
            }
        }
        (0..4).for_each(|i| hessian[i][i] += 0.01);
        let step = solve(hessian, gradient);
        (0..4).for_each(|i| beta[i] += step[i].clamp(-2.0, 2.0));
    }
    beta
}

/// Solves a small positive system by elimination.
#[allow(clippy::needless_range_loop, reason = "indices of a matrix read better than zipped iterators")]
fn solve(mut matrix: [[f64; 4]; 4], mut right: [f64; 4]) -> [f64; 4] {
    for pivot in 0..4 {
        for row in pivot + 1..4 {
            let factor = matrix[row][pivot] / matrix[pivot][pivot];
            for column in pivot..4 {
                matrix[row][column] -= factor * matrix[pivot][column];
            }
            right[row] -= factor * right[pivot];
        }
    }
    for row in (0..4).rev() {
        for column in row + 1..4 {
            right[row] -= matrix[row][column] * right[column];
        }
        right[row] /= matrix[row][row];
    }
    right
}
