//! Trains the classifier of `crates/trace` on the LEARN set and writes its table of weights.
//!
//! `cargo run --release -p rubstone-benches --bin train_traces -- [TABLE.rs]`: without a path it only prints how well the
//! classifier does in cross-validation by picture.

use std::fmt::Write as _;
use std::process::ExitCode;

use finish::render::render;
use rubstone_benches::sets::{Case, Which, cases};
use rubstone_benches::traces::score::Key;
use trace::training::{Example, FEATURE_CUT, LEVELS, N_FEATURES, examples, single};

/// Folds of the cross-validation: pictures are dealt out one by one.
const FOLDS: usize = 5;
/// Weight of the ridge that keeps weights small, in units of 100 px of candidate.
const RIDGE: f64 = 3.0;
/// Least weights by index of the feature: strength and mean evidence speak for a scratch at least this much, and width, near copies
/// and spread against it no more than this. Without these bounds strong broad lone lines, of which the training pictures hold few,
/// are taken for clutter: pavement joints and printed stripes that an eye sees at once, at a cost of .005 of F1 on rendered stone.
const LEAST_WEIGHT: [(usize, f64); 5] = [(0, 0.45), (1, 0.25), (6, -0.15), (10, -0.5), (12, -0.4)];
/// Newton steps: the log-odds of a bounded fit settle within thirty.
const STEPS: usize = 30;
/// Coefficients: one per feature and the constant, first.
const N: usize = N_FEATURES + 1;
/// False traces per megapixel, from this many to that many, that the line of expected false traces is fitted to.
const TAIL: [f64; 2] = [0.3, 25.0];

/// One candidate: features, the share of its length that is true, its length in px, its picture, that one's size in px, and
/// whether it is bare.
struct Item {
    example: Example,
    share: f64,
    length_px: f64,
    picture: usize,
    size: [usize; 2],
    bare: bool,
}

/// A fitted classifier: one for each level.
struct Models([Model; LEVELS]);

/// The classifier of one level.
struct Model {
    means: [f64; N_FEATURES],
    scales: [f64; N_FEATURES],
    weights: [f64; N],
}

fn main() -> ExitCode {
    let (items, bare_mpx) = match gather() {
        Ok(gathered) => gathered,
        Err(failed) => {
            eprintln!("{failed}");
            return ExitCode::FAILURE;
        }
    };
    println!("{} candidates, {bare_mpx:.1} MP of bare stone", items.len());
    let judged = alone(&items, &cross_validated(&items));
    let line = false_line(&judged, bare_mpx);
    report(&judged, bare_mpx, line);
    let models = Models::fit(|_| true, &items);
    let Some(path) = std::env::args().nth(1) else { return ExitCode::SUCCESS };
    match std::fs::write(&path, table(&models, line)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failed) => {
            eprintln!("{path}: {failed}");
            ExitCode::FAILURE
        }
    }
}

/// All candidates of the LEARN pictures and of as many bare ones of the same stones, and the area of bare stone.
fn gather() -> Result<(Vec<Item>, f64), String> {
    let learn = cases(Which::Learn);
    let bare: Vec<Case> = learn
        .iter()
        .filter(|case| !case.scene.grooves.is_empty())
        .step_by(2)
        .map(|case| {
            let mut bare = case.clone();
            bare.scene.grooves.clear();
            bare.seed = bare.seed.wrapping_add(1_000_003);
            bare
        })
        .collect();
    let (mut items, mut bare_mpx) = (Vec::new(), 0.0);
    for (picture, case) in learn.iter().chain(&bare).enumerate() {
        let rendered = render(&case.scene, case.seed).map_err(|e| e.to_string())?;
        let (width, height) = (rendered.grey.width(), rendered.grey.height());
        let key = Key::new(&rendered.truth, width, height);
        let is_bare = case.scene.grooves.is_empty();
        if is_bare {
            bare_mpx += (width * height) as f64 / 1e6;
        }
        let found = examples(&rendered.grey, rendered.truth.light);
        eprintln!(
            "{picture:3} {} {}: {} candidates",
            case.name,
            if is_bare { "bare" } else { "" },
            found.len()
        );
        items.extend(found.into_iter().filter_map(|example| {
            let hits = key.hits(&example.points_px);
            let length_px = hits.len() as f64;
            let share = hits.iter().filter(|(_, hit)| *hit).count() as f64 / length_px.max(1.0);
            (length_px > 0.0).then_some(Item {
                example,
                share,
                length_px,
                picture,
                size: [width, height],
                bare: is_bare,
            })
        }));
    }
    Ok((items, bare_mpx))
}

/// Log-odds of every candidate from a model that has not seen its picture.
fn cross_validated(items: &[Item]) -> Vec<f64> {
    let mut scores = vec![0.0; items.len()];
    for fold in 0..FOLDS {
        let models = Models::fit(|item| item.picture % FOLDS != fold, items);
        for (score, item) in scores.iter_mut().zip(items).filter(|(_, i)| i.picture % FOLDS == fold) {
            *score = models.log_odds(&item.example);
        }
    }
    scores
}

impl Models {
    /// Fits every level to those of its candidates that may be learnt from.
    fn fit(may_be: impl Fn(&Item) -> bool, items: &[Item]) -> Self {
        Self(std::array::from_fn(|level| {
            fit(&items.iter().filter(|i| i.example.level == level && may_be(i)).collect::<Vec<_>>())
        }))
    }

    fn log_odds(&self, example: &Example) -> f64 {
        self.0.get(example.level).map_or(f64::NEG_INFINITY, |model| model.log_odds(&example.features))
    }
}

impl Model {
    fn row(&self, features: &[f64; N_FEATURES]) -> [f64; N] {
        let mut row = [1.0; N];
        for (k, value) in row.iter_mut().skip(1).enumerate() {
            *value = ((features[k] - self.means[k]) / self.scales[k]).clamp(-FEATURE_CUT, FEATURE_CUT);
        }
        row
    }

    fn log_odds(&self, features: &[f64; N_FEATURES]) -> f64 {
        self.row(features).iter().zip(&self.weights).map(|(x, w)| x * w).sum()
    }
}

/// Logistic regression of the true share, weighted by length, by Newton's method with a ridge and bounds.
fn fit(items: &[&Item]) -> Model {
    let n = items.len() as f64;
    let mut model = Model { means: [0.0; N_FEATURES], scales: [1.0; N_FEATURES], weights: [0.0; N] };
    for k in 0..N_FEATURES {
        let mean = items.iter().map(|i| i.example.features[k]).sum::<f64>() / n;
        let square = items.iter().map(|i| (i.example.features[k] - mean).powi(2)).sum::<f64>() / n;
        (model.means[k], model.scales[k]) = (mean, square.sqrt().max(1e-9));
    }
    for _ in 0..STEPS {
        let mut gradient = [0.0; N];
        let mut hessian = [[0.0; N]; N];
        for item in items {
            let row = model.row(&item.example.features);
            let odds: f64 = row.iter().zip(&model.weights).map(|(x, w)| x * w).sum();
            let p = 1.0 / (1.0 + (-odds).exp());
            let weight = item.length_px / 100.0;
            for i in 0..N {
                gradient[i] += weight * (item.share - p) * row[i];
                for j in 0..N {
                    hessian[i][j] += weight * p * (1.0 - p) * row[i] * row[j];
                }
            }
        }
        for k in 1..N {
            gradient[k] -= RIDGE * model.weights[k];
            hessian[k][k] += RIDGE;
        }
        let step = solve(hessian, gradient);
        model.weights.iter_mut().zip(step).for_each(|(w, s)| *w += s);
        for (feature, least) in LEAST_WEIGHT {
            let weight = &mut model.weights[feature + 1];
            *weight = weight.max(least);
        }
    }
    model
}

/// Solves a positive definite system by elimination.
fn solve(mut matrix: [[f64; N]; N], mut right: [f64; N]) -> [f64; N] {
    for k in 0..N {
        for row in k + 1..N {
            let factor = matrix[row][k] / matrix[k][k];
            let pivot = matrix[k];
            matrix[row].iter_mut().zip(pivot).skip(k).for_each(|(value, above)| *value -= factor * above);
            right[row] -= factor * right[k];
        }
    }
    for k in (0..N).rev() {
        let known: f64 = (k + 1..N).map(|j| matrix[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / matrix[k][k];
    }
    right
}

/// Candidates that do not lie on better ones of their picture, each with its score.
fn alone<'a>(items: &'a [Item], scores: &[f64]) -> Vec<(&'a Item, f64)> {
    let judged: Vec<(&Item, f64)> = items.iter().zip(scores.iter().copied()).collect();
    let mut alone = Vec::with_capacity(judged.len());
    for picture in judged.chunk_by(|(a, _), (b, _)| a.picture == b.picture) {
        let mut ranked = picture.to_vec();
        ranked.sort_by(|(_, a), (_, b)| b.total_cmp(a));
        let examples: Vec<&Example> = ranked.iter().map(|(item, _)| &item.example).collect();
        let [width, height] = picture.first().map_or([0, 0], |(item, _)| item.size);
        let flags = single(&examples, width, height);
        alone.extend(ranked.into_iter().zip(flags).filter_map(|(item, alone)| alone.then_some(item)));
    }
    alone
}

/// Scores of candidates on bare stone, best first.
fn bare_scores(judged: &[(&Item, f64)]) -> Vec<f64> {
    let mut bare: Vec<f64> = judged.iter().filter(|(item, _)| item.bare).map(|(_, score)| *score).collect();
    bare.sort_by(|a, b| b.total_cmp(a));
    bare
}

/// log10 of false traces per megapixel against log-odds: a straight line through the tail on bare stone.
fn false_line(judged: &[(&Item, f64)], bare_mpx: f64) -> [f64; 2] {
    let (mut w, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (k, score) in bare_scores(judged).iter().enumerate() {
        let rate = (k as f64 + 1.0) / bare_mpx;
        if !(TAIL[0]..=TAIL[1]).contains(&rate) {
            continue;
        }
        // Counts vary by their root; without this the faint end alone would set the line.
        let weight = (k as f64 + 1.0).sqrt();
        w += weight;
        x += weight * score;
        y += weight * rate.log10();
        xx += weight * score * score;
        xy += weight * score * rate.log10();
    }
    let slope = (w * xy - x * y) / (w * xx - x * x);
    [(y - slope * x) / w, slope]
}

/// Precision of the length kept and false traces per megapixel at several expected numbers of false traces.
fn report(judged: &[(&Item, f64)], bare_mpx: f64, line: [f64; 2]) {
    println!("false per MP: log10 = {:.3} {:+.3} × log-odds", line[0], line[1]);
    let all_true: f64 = judged.iter().map(|(i, _)| i.share * i.length_px).sum();
    for expected in [10.0, 5.0, 3.0, 1.0, 0.3, 0.05_f64] {
        let least = (expected.log10() - line[0]) / line[1];
        let kept: Vec<&Item> = judged.iter().filter(|(_, s)| *s >= least).map(|(i, _)| *i).collect();
        let length: f64 = kept.iter().map(|i| i.length_px).sum();
        let true_length: f64 = kept.iter().map(|i| i.share * i.length_px).sum();
        let false_traces = kept.iter().filter(|i| i.bare && i.length_px >= 50.0).count() as f64 / bare_mpx;
        println!(
            "expected {expected:5.2}/MP: log-odds ≥ {least:5.2}, precision {:.3}, of the candidates' true length {:.3}, false ≥ 50 px {false_traces:.2}/MP",
            true_length / length.max(1.0),
            true_length / all_true.max(1.0)
        );
    }
}

/// The table as Rust.
fn table(models: &Models, line: [f64; 2]) -> String {
    let mut text = String::from(
        "//! Weights of the classifier, written by the program that trains it (`train_traces` in `benches`): do not edit by hand.\n\n\
         use crate::classify::Weights;\n\n",
    );
    for (about, name, model) in models.0.iter().zip(["full", "half"]).map(|(model, level)| {
        (format!("For candidates seen at {level} resolution."), level.to_uppercase(), model)
    }) {
        let (bias, weights) = model.weights.split_first().map_or((0.0, &[][..]), |(bias, w)| (*bias, w));
        let _ = writeln!(
            text,
            "/// {about}\npub(crate) const {name}: Weights = Weights {{\n    bias: {bias:.5},"
        );
        for (field, values) in
            [("means", &model.means[..]), ("scales", &model.scales[..]), ("weights", weights)]
        {
            let listed: Vec<String> = values.iter().map(|v| format!("{v:.5}")).collect();
            let _ = writeln!(text, "    {field}: [{}],", listed.join(", "));
        }
        text.push_str("};\n");
    }
    let _ = writeln!(
        text,
        "/// log10 of false traces per megapixel of scratch-free stone at log-odds 0, and its change per unit of log-odds.\n\
         pub(crate) const FALSE_LINE: [f64; 2] = [{:.5}, {:.5}];",
        line[0], line[1]
    );
    text
}
