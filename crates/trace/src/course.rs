//! Geometry of a polyline: even resampling, smoothing, tangents, distances.

/// A polyline in px of the picture.
pub(crate) type Points = Vec<[f64; 2]>;

/// Distance between two points.
pub(crate) fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    // Not `hypot`, whose care for overflow costs a call that pixels do not need.
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)).sqrt()
}

/// Length of a polyline.
pub(crate) fn length(points: &[[f64; 2]]) -> f64 {
    // Not `sum`, which of no step at all makes −0.
    points.windows(2).fold(0.0, |sum, pair| if let &[a, b] = pair { sum + distance(a, b) } else { sum })
}

/// An end closer than this to the picture's edge has run out of the field, px.
const EDGE_PX: f64 = 12.0;

/// Whether a line that stops here stops within the field, and is not cut off by the picture's edge.
pub(crate) fn ends_within(end: [f64; 2], width_px: f64, height_px: f64) -> bool {
    let clear = |at: f64, size: f64| at > EDGE_PX && at < size - 1.0 - EDGE_PX;
    clear(end[0], width_px) && clear(end[1], height_px)
}

/// Points at even steps along a polyline, both ends kept; the step is the nearest to `step_px` that fits.
pub(crate) fn resampled(points: &[[f64; 2]], step_px: f64) -> Points {
    let (Some(&first), Some(&last)) = (points.first(), points.last()) else { return Vec::new() };
    let total = length(points);
    let count = (total / step_px).round().max(1.0);
    let step = total / count;
    let mut even = Vec::with_capacity(count as usize + 1);
    even.push(first);
    let mut walked = 0.0;
    let mut next = step;
    for pair in points.windows(2) {
        let &[a, b] = pair else { continue };
        let piece = distance(a, b);
        while next <= walked + piece && even.len() < count as usize {
            let t = if piece > 0.0 { (next - walked) / piece } else { 0.0 };
            even.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
            next += step;
        }
        walked += piece;
    }
    even.push(last);
    even
}

/// Local parabolas over `half` points on either side (Savitzky and Golay 1964), one-sided windows at the ends.
pub(crate) fn smoothed(points: &[[f64; 2]], half: usize) -> Points {
    let n = points.len();
    if n < 4 || half < 2 {
        return points.to_vec();
    }
    (0..n)
        .map(|i| {
            let from = i.saturating_sub(half);
            let to = (i + half + 1).min(n);
            let window = points.get(from..to).unwrap_or(&[]);
            let at = i as f64 - from as f64;
            [parabola_at(window, 0, at), parabola_at(window, 1, at)]
        })
        .collect()
}

/// The largest half window up to `most_px` over which a parabola follows a polyline's bend within 0.1 px even at its ends:
/// a one-sided window of half length s leaves 0.7 s⁴/(24 R³) of an arc of radius R.
pub(crate) fn window_px(points: &[[f64; 2]], most_px: f64) -> f64 {
    let chords = tangents(&resampled(points, 24.0));
    let turned: f64 = chords
        .windows(2)
        .map(|pair| if let &[a, b] = pair { (a[0] * b[1] - a[1] * b[0]).abs() } else { 0.0 })
        .sum();
    let radius = length(points) / turned.max(1e-9);
    most_px.min((3.4 * radius.powi(3)).powf(0.25))
}

/// Value at index `at` of the least-squares parabola through one coordinate of evenly spaced points.
fn parabola_at(window: &[[f64; 2]], coordinate: usize, at: f64) -> f64 {
    let n = window.len() as f64;
    let centre = (n - 1.0) / 2.0;
    let (mut s2, mut s4, mut y0, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (i, point) in window.iter().enumerate() {
        let t = i as f64 - centre;
        let y = point[coordinate];
        s2 += t * t;
        s4 += t.powi(4);
        y0 += y;
        y1 += t * y;
        y2 += t * t * y;
    }
    let t = at - centre;
    let determinant = n * s4 - s2 * s2;
    if determinant <= 0.0 || s2 <= 0.0 {
        return y0 / n;
    }
    let constant = (s4 * y0 - s2 * y2) / determinant;
    let square = (n * y2 - s2 * y0) / determinant;
    constant + y1 / s2 * t + square * t * t
}

/// Unit tangents of a polyline, from its neighbours' difference.
pub(crate) fn tangents(points: &[[f64; 2]]) -> Points {
    let n = points.len();
    (0..n)
        .map(|i| {
            let a = points.get(i.saturating_sub(1)).copied().unwrap_or_default();
            let b = points.get((i + 1).min(n - 1)).copied().unwrap_or_default();
            let step = distance(a, b).max(1e-9);
            [(b[0] - a[0]) / step, (b[1] - a[1]) / step]
        })
        .collect()
}

/// Points moved sideways, each by its own amount, to the left of the walking direction as stored (`[-ty, tx]`).
pub(crate) fn moved_sideways(points: &[[f64; 2]], by_px: &[f64]) -> Points {
    let tangents = tangents(points);
    points.iter().zip(&tangents).zip(by_px).map(|((p, t), by)| [p[0] - t[1] * by, p[1] + t[0] * by]).collect()
}

/// Mean tangent over about the first (`at_end` false, pointing backwards) or last points, pointing out of the polyline.
pub(crate) fn outward(points: &[[f64; 2]], at_end: bool, reach: usize) -> [f64; 2] {
    let n = points.len();
    let reach = reach.min(n.saturating_sub(1));
    let (from, to) = if at_end { (n - 1 - reach, n - 1) } else { (reach, 0) };
    let a = points.get(from).copied().unwrap_or_default();
    let b = points.get(to).copied().unwrap_or_default();
    let step = distance(a, b).max(1e-9);
    [(b[0] - a[0]) / step, (b[1] - a[1]) / step]
}

/// A polyline made longer at both ends by the arcs that it ends in.
pub(crate) fn extended(points: &[[f64; 2]], by_px: f64) -> Points {
    let reversed: Points = points.iter().rev().copied().collect();
    let mut longer: Points = onward(&reversed, by_px);
    longer.reverse();
    longer.extend_from_slice(points);
    longer.extend(onward(points, by_px));
    longer
}

/// Farthest points, from the end, that the bend of an end is read from: chords of 48 px between blocks of 8 px keep the
/// jitter of single points out of it.
const BEND_POINTS: usize = 6;
/// Length of the steps in which an arc is walked on, px.
const STRIDE_PX: f64 = 4.0;

/// Points that go on from the last one along the arc of the last few.
fn onward(points: &[[f64; 2]], by_px: f64) -> Points {
    let Some(&last) = points.last() else { return Vec::new() };
    let far = BEND_POINTS.min((points.len() - 1) / 2);
    let back = |k: usize| points.get(points.len() - 1 - k).copied().unwrap_or(last);
    let chord = |from: [f64; 2], to: [f64; 2]| (to[1] - from[1]).atan2(to[0] - from[0]);
    let (middle, start) = (back(far), back(2 * far));
    let step = 0.5 * (distance(start, middle) + distance(middle, last));
    let (mut angle, mut bend) = (chord(back(4.min(points.len() - 1)), last), 0.0);
    if far >= 2 && step > 0.0 {
        use std::f64::consts::PI;
        let turn = (chord(middle, last) - chord(start, middle) + PI).rem_euclid(2.0 * PI) - PI;
        bend = turn / step;
        angle = chord(middle, last) + 0.5 * turn;
    }
    let count = (by_px / STRIDE_PX).ceil().max(1.0);
    let stride = by_px / count;
    let mut at = last;
    (0..count as usize)
        .map(|_| {
            angle += 0.5 * bend * stride;
            at = [at[0] + stride * angle.cos(), at[1] + stride * angle.sin()];
            angle += 0.5 * bend * stride;
            at
        })
        .collect()
}

/// A polyline whose ends reach beyond the picture, cut off at its border.
pub(crate) fn within(points: &[[f64; 2]], width_px: f64, height_px: f64) -> Points {
    let upper = [width_px - 0.5, height_px - 0.5];
    let holds = |p: &[f64; 2]| (0..2).all(|axis| (-0.5..=upper[axis]).contains(&p[axis]));
    let (Some(first), Some(last)) = (points.iter().position(holds), points.iter().rposition(holds)) else {
        return Vec::new();
    };
    // Share of the step from a point inside to one outside that still lies inside.
    let border = |inner: [f64; 2], outer: [f64; 2]| {
        let share = (0..2).fold(1.0f64, |share, axis| {
            let step = outer[axis] - inner[axis];
            let room = if step > 0.0 { upper[axis] - inner[axis] } else { -0.5 - inner[axis] };
            if step == 0.0 { share } else { share.min(room / step) }
        });
        [inner[0] + share * (outer[0] - inner[0]), inner[1] + share * (outer[1] - inner[1])]
    };
    let mut kept = points.get(first..=last).unwrap_or_default().to_vec();
    if let (Some(outer), Some(&inner)) = (first.checked_sub(1).and_then(|at| points.get(at)), kept.first()) {
        kept.insert(0, border(inner, *outer));
    }
    if let (Some(outer), Some(&inner)) = (points.get(last + 1), kept.last()) {
        kept.push(border(inner, *outer));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resampling_keeps_ends_and_evens_steps() {
        let even = resampled(&[[0.0, 0.0], [3.0, 4.0], [3.0, 24.2]], 1.0);
        assert_eq!(even.len(), 26);
        assert_eq!((even[0], even[25]), ([0.0, 0.0], [3.0, 24.2]));
        assert!(even.windows(2).all(|p| (distance(p[0], p[1]) - 25.2 / 25.0).abs() < 0.05));
    }

    #[test]
    fn what_reaches_beyond_the_picture_is_cut_at_its_border() {
        let points = [[-4.0, 10.0], [-2.0, 10.0], [2.0, 10.0], [20.0, 10.0], [20.0, 32.0]];
        assert_eq!(within(&points, 40.0, 30.0), [[-0.5, 10.0], [2.0, 10.0], [20.0, 10.0], [20.0, 29.5]]);
        assert_eq!(within(&points[2..4], 40.0, 30.0), points[2..4]);
        assert!(within(&points[..2], 40.0, 30.0).is_empty());
    }

    #[test]
    fn an_arc_is_walked_on_along_itself() {
        let on_circle = |t: f64| [80.0 * t.cos(), 80.0 * t.sin()];
        let points: Points = (0..30).map(|i| on_circle(0.1 * f64::from(i))).collect();
        let longer = extended(&points, 20.0);
        assert!(distance(longer[0], points[0]) > 19.0);
        assert!(longer.iter().all(|p| (p[0].hypot(p[1]) - 80.0).abs() < 0.2), "{longer:?}");
        // Two points have no bend: they go on straight.
        let straight = extended(&[[0.0, 0.0], [8.0, 0.0]], 4.0);
        assert!(distance(straight[0], [-4.0, 0.0]) < 1e-9 && distance(straight[3], [12.0, 0.0]) < 1e-9);
    }

    #[test]
    fn smoothing_keeps_to_a_tight_arc() {
        let on_circle = |t: f64| [60.0 * t.cos(), 60.0 * t.sin()];
        let points: Points = (0..240).map(|i| on_circle(f64::from(i) / 60.0)).collect();
        let half = window_px(&points, 40.0) as usize;
        for p in smoothed(&points, half) {
            assert!((p[0].hypot(p[1]) - 60.0).abs() < 0.15, "{p:?} with {half}");
        }
        let straight: Points = (0..240).map(|i| [f64::from(i), 0.3 * f64::from(i)]).collect();
        assert_eq!(window_px(&straight, 40.0), 40.0);
    }

    #[test]
    fn smoothing_leaves_a_parabola_alone() {
        let points: Points = (0..40).map(f64::from).map(|t| [t, 0.01 * t * t + 0.3 * t]).collect();
        for (a, b) in smoothed(&points, 9).iter().zip(&points) {
            assert!(distance(*a, *b) < 1e-9);
        }
    }
}
