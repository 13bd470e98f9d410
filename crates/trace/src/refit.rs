//! Measures a line that someone drew, cut or joined by hand.

use picture::{Distortion, Grey};

use crate::classify::{log_odds, log10_nfa};
use crate::course::{Points, length, resampled};
use crate::find::{candidate, features_of, trace};
use crate::level::{Placed, View};
use crate::recentre::{Bank, SHIFTS};
use crate::{Trace, TraceError};

/// Shortest line that can be fitted, px: the shortest trace.
const LEAST_LENGTH_PX: f64 = 40.0;

/// Measures the groove along a line drawn by hand: axis, direction, curvature, width and contrast, with their
/// uncertainties. The line (px of the picture, at least two points) must run within about 5 px of the groove. The trace is
/// returned whether or not the picture supports it; its `log10_nfa` tells. A known lens is taken out of the arc, not of the
/// points.
///
/// # Errors
/// If less than 40 px of the line lie inside the picture.
///
/// # Source
/// Ours, as [`crate::find`].
pub fn refit(grey: &Grey, points: &[[f64; 2]], lens: Option<&Distortion>) -> Result<Trace, TraceError> {
    let (width, height) = (grey.width() as f64, grey.height() as f64);
    // Point by point, so that a line drawn out of the picture is cut at its border.
    let drawn = if points.len() < 2 { Vec::new() } else { resampled(points, 1.0) };
    let inside: Vec<[f64; 2]> = drawn
        .into_iter()
        .filter(|p| p[0] >= 0.0 && p[1] >= 0.0 && p[0] <= width - 1.0 && p[1] <= height - 1.0)
        .collect();
    let too_short = TraceError::TooShort { length_px: length(&inside), needed_px: LEAST_LENGTH_PX };
    if length(&inside) < LEAST_LENGTH_PX {
        return Err(too_short);
    }
    let mut best: Option<(Placed, f64)> = None;
    for view in View::all(grey, lens) {
        if best.as_ref().is_some_and(|(finer, _)| finer.is_narrow()) {
            break;
        }
        let seen = measured(&view, &inside);
        best = best.into_iter().chain(seen).max_by(|(_, a), (_, b)| a.total_cmp(b));
    }
    let (placed, log_odds) = best.ok_or(too_short)?;
    let nfa = log10_nfa(log_odds, width * height / 1e6);
    Ok(Trace { id: 1, ..trace(&placed, nfa, width, height) })
}

/// The groove along a line of the picture as it is seen at one level, and the log-odds that it is a scratch; `None` where it is
/// too short there.
fn measured(view: &View, line: &[[f64; 2]]) -> Option<(Placed, f64)> {
    let residual = &view.cleared.residual;
    let bank = Bank::new(residual);
    let line: Points = line.iter().map(|p| view.level.onto_level(*p)).collect();
    let (centred, _) = bank.centre(residual, &line, SHIFTS)?;
    let candidates = [candidate(&view.cleared, &bank, centred, view.lens.as_ref())?];
    let [features] = features_of(&candidates, &view.cleared).try_into().ok()?;
    let [candidate] = &candidates;
    Some((view.placed(candidate), log_odds(view.level, &features)))
}
