//! What the statistics are taken from: traces in the fields that showed them.

use std::collections::BTreeSet;

use quantity::{AxialDeg, Measured, UmPerPx};

/// One trace as a number-only record, in the pixels of its picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Item {
    /// Axis at mid-length.
    pub direction: AxialDeg,
    /// Its standard uncertainty, degrees.
    pub direction_u_deg: f64,
    /// Visible length, px.
    pub length_px: f64,
    /// Signed curvature, 1/px: positive bends counter-clockwise as seen when walked along increasing x.
    pub curvature_per_px: Measured,
    /// Full width, px.
    pub width_px: Measured,
    /// True ends inside the field, 0 to 2.
    pub ends_inside: u8,
    /// One end of the visible part, px.
    pub start_px: [f64; 2],
    /// The other end, px.
    pub end_px: [f64; 2],
}

/// One capture and its traces.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Station the capture belongs to; captures with the same number are of one station.
    pub station: usize,
    /// Width of the picture, px.
    pub width_px: f64,
    /// Height of the picture, px.
    pub height_px: f64,
    /// Scale, where one is known.
    pub um_per_px: Option<UmPerPx>,
    /// The traces accepted.
    pub items: Vec<Item>,
}

/// Unit of the lengths of a description.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// No scale is known: pixels.
    Pixel,
    /// Millimetres on the surface.
    Millimetre,
}

impl Unit {
    /// `px` or `mm`.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Pixel => "px",
            Self::Millimetre => "mm",
        }
    }
}

impl Field {
    /// Length of one pixel in `unit`; `None` where the field has no scale and `unit` needs one.
    #[must_use]
    pub fn unit_per_px(&self, unit: Unit) -> Option<f64> {
        match unit {
            Unit::Pixel => Some(1.0),
            Unit::Millimetre => self.um_per_px.map(|scale| scale.value() / 1000.0),
        }
    }

    /// Whether the field has an area at all.
    pub(crate) fn is_usable(&self) -> bool {
        self.width_px.is_finite() && self.height_px.is_finite() && self.width_px > 0.0 && self.height_px > 0.0
    }

    /// Positions along the normal of `axis` at which transects across the field meet the traces `members` (indices of
    /// items), px. Transects lie about one visible trace apart along the axis, so that few traces are met twice; a pair of
    /// neighbours met before is not counted again.
    pub(crate) fn transects(&self, axis: AxialDeg, members: &[usize]) -> Vec<Vec<f64>> {
        let (ax, ay) = axis.pixel_step();
        let along = |[x, y]: [f64; 2]| x * ax + y * ay;
        let across = |[x, y]: [f64; 2]| y * ax - x * ay;
        let lines: Vec<[f64; 4]> = members
            .iter()
            .filter_map(|&index| self.items.get(index))
            .map(|item| {
                let (a, b) = if along(item.start_px) <= along(item.end_px) {
                    (item.start_px, item.end_px)
                } else {
                    (item.end_px, item.start_px)
                };
                [along(a), across(a), along(b), across(b)]
            })
            .collect();
        let mut reaches: Vec<f64> = lines.iter().map(|line| line[2] - line[0]).collect();
        reaches.sort_by(f64::total_cmp);
        let typical = crate::width::quantile(&reaches, 0.5);
        let corners =
            [[0.0, 0.0], [self.width_px, 0.0], [0.0, self.height_px], [self.width_px, self.height_px]]
                .map(along);
        let (first, last) = (
            corners.iter().copied().fold(f64::INFINITY, f64::min),
            corners.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        );
        // The outer sixths are left out: there the transect is cut short by the corners of the field.
        let range = (last - first) * 2.0 / 3.0;
        let number = if typical > 0.0 { (range / typical).floor().clamp(1.0, MOST_TRANSECTS) } else { 1.0 };
        let mut met_before: BTreeSet<(usize, usize)> = BTreeSet::new();
        let mut all = Vec::new();
        for step in 0..number as usize {
            let at = 0.5 * (first + last) + range * ((step as f64 + 0.5) / number - 0.5);
            all.extend(crossings(&lines, at, &mut met_before));
        }
        all
    }
}

/// Most transects laid across one field; beyond, the same traces are met again.
const MOST_TRANSECTS: f64 = 25.0;

/// Where the transect at `at` meets the lines, cut into runs where a pair of neighbours was met before.
fn crossings(lines: &[[f64; 4]], at: f64, met_before: &mut BTreeSet<(usize, usize)>) -> Vec<Vec<f64>> {
    let mut met: Vec<(f64, usize)> = lines
        .iter()
        .enumerate()
        .filter(|(_, [from, _, to, _])| *from <= at && at <= *to && to > from)
        .map(|(index, [from, low, to, high])| (low + (high - low) * (at - from) / (to - from), index))
        .collect();
    met.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut runs: Vec<Vec<f64>> = vec![Vec::new()];
    let mut before: Option<usize> = None;
    for (position, index) in met {
        if let Some(previous) = before {
            let pair = (previous.min(index), previous.max(index));
            if !met_before.insert(pair) {
                runs.push(Vec::new());
            }
        }
        if let Some(run) = runs.last_mut() {
            run.push(position);
        }
        before = Some(index);
    }
    runs.retain(|run| run.len() > 1);
    runs
}
