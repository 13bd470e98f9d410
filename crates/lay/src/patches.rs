//! Patches of parallel lines: twin lamellae and cleavage of single crystals, which only show once directions are pooled.

use crate::field::{Field, Item};

/// A patch has at least this many lines…
const LINES_NEEDED: usize = 4;
/// …within this much of direction, degrees: planes of one crystal agree to a fraction of a degree, hands and pads do not…
const TIGHT_DEG: f64 = 0.8;
/// …holding this share of the short lines within [`AROUND_DEG`] of its middle (a hand-guided set spread by 1° holds a
/// third there)…
const TIGHT_SHARE: f64 = 0.65;
const AROUND_DEG: f64 = 3.0;
/// …of which none is longer than this share of the field's diagonal: no grain fills a field of useful size…
const LONGEST_SHARE: f64 = 0.45;
/// …and whose bounding box is less than this share of the field. Lines of a feed fill the field. All ours, by eye on
/// rendered fields of diorite at 0.8 and 4.7 µm per pixel.
const LARGEST_AREA: f64 = 0.5;

/// For every item of `field`: whether it belongs to a patch of short lines, parallel to within what is measured and
/// gathered in one part of the field. Such lines are more likely the stone's than a tool's.
pub(crate) fn in_patches(field: &Field) -> Vec<bool> {
    let diagonal = field.width_px.hypot(field.height_px);
    let mut short: Vec<usize> = (0..field.items.len())
        .filter(|&index| field.items.get(index).is_some_and(|item| item.length_px < LONGEST_SHARE * diagonal))
        .collect();
    let degrees = |index: usize| field.items.get(index).map_or(0.0, |item| item.direction.degrees());
    short.sort_by(|&a, &b| degrees(a).total_cmp(&degrees(b)));
    let mut marked = vec![false; field.items.len()];
    for start in 0..short.len() {
        let members = ahead(&short, start, degrees);
        if members.len() >= LINES_NEEDED && stands_alone(field, &short, &members) && is_small(field, &members)
        {
            members.iter().filter_map(|&index| marked.get_mut(index).map(|mark| *mark = true)).count();
        }
    }
    marked
}

/// The items from `start` on, round the fold, whose directions are no more than [`TIGHT_DEG`] further.
fn ahead(short: &[usize], start: usize, degrees: impl Fn(usize) -> f64) -> Vec<usize> {
    let turned = short.iter().cycle().skip(start).take(short.len()).copied();
    let Some(first) = short.get(start).map(|&index| degrees(index)) else { return Vec::new() };
    turned.take_while(|&index| (degrees(index) - first).rem_euclid(180.0) <= TIGHT_DEG).collect()
}

/// Whether the short lines about the members' middle are mostly the members.
fn stands_alone(field: &Field, short: &[usize], members: &[usize]) -> bool {
    let item = |index: usize| field.items.get(index);
    let Some(middle) = members.get(members.len() / 2).and_then(|&index| item(index)) else { return false };
    let near = |item: &Item| item.direction.angle_to(middle.direction) <= AROUND_DEG;
    let around = short.iter().filter(|&&index| item(index).is_some_and(near)).count();
    members.len() as f64 >= TIGHT_SHARE * around as f64
}

/// Whether the members' bounding box is a small part of the field.
fn is_small(field: &Field, members: &[usize]) -> bool {
    let points = members
        .iter()
        .filter_map(|&index| field.items.get(index))
        .flat_map(|item| [item.start_px, item.end_px]);
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for [x, y] in points {
        low = [low[0].min(x), low[1].min(y)];
        high = [high[0].max(x), high[1].max(y)];
    }
    (high[0] - low[0]) * (high[1] - low[1]) < LARGEST_AREA * field.width_px * field.height_px
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::{AxialDeg, Measured};

    fn line(direction_deg: f64, from: [f64; 2], length_px: f64) -> Item {
        let direction = AxialDeg::new(direction_deg).unwrap();
        let (dx, dy) = direction.pixel_step();
        Item {
            direction,
            direction_u_deg: 0.1,
            length_px,
            curvature_per_px: Measured { value: 0.0, u: 1e-5 },
            width_px: Measured { value: 3.0, u: 0.3 },
            ends_inside: 2,
            start_px: from,
            end_px: [from[0] + length_px * dx, from[1] + length_px * dy],
        }
    }

    fn field(items: Vec<Item>) -> Field {
        Field { station: 0, width_px: 1280.0, height_px: 960.0, um_per_px: None, items }
    }

    /// Six lines of one grain, through the fold of the axis, beside a set spread by a degree over the whole field.
    #[test]
    fn a_grain_is_told_from_a_set() {
        let mut items: Vec<Item> = (0..6)
            .map(|i| line([179.9, 0.1, 0.0, 179.8, 0.2, 0.3][i], [500.0, 300.0 + 40.0 * i as f64], 250.0))
            .collect();
        items.extend((0..12).map(|i| line(40.0 + 0.35 * f64::from(i), [100.0 * f64::from(i), 900.0], 300.0)));
        let marked = in_patches(&field(items));
        assert_eq!(marked, [vec![true; 6], vec![false; 12]].concat());
    }

    /// A feed is as parallel, but fills the field; long strokes are no lamellae wherever they lie.
    #[test]
    fn a_feed_and_long_strokes_are_left_alone() {
        let feed =
            (0..12).map(|i| line(90.0, [100.0 * f64::from(i), 900.0 - 60.0 * f64::from(i % 3)], 600.0));
        assert!(in_patches(&field(feed.collect())).iter().all(|mark| !mark));
        let long = (0..6).map(|i| line(90.0, [600.0 + 10.0 * f64::from(i), 930.0], 800.0));
        assert!(in_patches(&field(long.collect())).iter().all(|mark| !mark));
        let three = (0..3).map(|i| line(0.0, [500.0, 300.0 + 40.0 * f64::from(i)], 250.0));
        assert!(in_patches(&field(three.collect())).iter().all(|mark| !mark), "three lines are no patch");
    }
}
