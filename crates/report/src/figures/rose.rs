//! Axial rose: which directions the traces run in.

use super::Figure;
use super::plot::{HEADING_LETTERS, PANEL_WIDTH};
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT, number, shorten};
use crate::dossier::{Direction, HiddenSector, Set};
use crate::words;

/// What a rose shows.
#[derive(Debug, Clone, Copy)]
pub struct Rose<'a> {
    /// Printed over it: `Station A`.
    pub heading: &'a str,
    /// The traces.
    pub directions: &'a [Direction],
    /// What the weights are, in words.
    pub weighting: &'a str,
    /// Sets to mark.
    pub sets: &'a [Set],
    /// Directions the light could not show.
    pub hidden: &'a [HiddenSector],
}

/// Most traces that get a tick of their own outside the rose.
const TICKS_AT_MOST: usize = 300;

/// Traces from which sectors of 5° are filled well enough; below, they are 10° wide.
const FINE_FROM: usize = 200;

const HEIGHT: f64 = 282.0;
/// Distance of a set's label from the circle.
const SET_GAP: f64 = 24.0;
/// A label counts as beside the circle from this cosine of its direction on.
const SIDEWAYS: f64 = 0.75;

/// The rose of some traces. Area-true: a sector's radius is the square root of its share, so that its area is its share.
/// Each sector is drawn at both ends of its axis.
#[must_use]
pub fn rose(rose: &Rose<'_>) -> Figure {
    let title = format!("Directions, {}", rose.heading);
    if rose.directions.is_empty() {
        return super::empty(&title, "there are no counted traces, so there are no directions to show.");
    }
    let dial = Dial { centre: [PANEL_WIDTH / 2.0, 154.0], radius: 94.0 };
    let sectors = sectors(rose.directions);
    let mut canvas = Canvas::default();
    canvas.bold([4.0, 13.0], Anchor::Start, TEXT, &shorten(&title, HEADING_LETTERS));
    let note = format!("{}; by {}", words::count(rose.directions.len(), "trace"), rose.weighting);
    canvas.text_in([4.0, 27.0], Anchor::Start, SMALL, Ink::Mid, &note);
    draw_dial(&mut canvas, &dial, &sectors, rose);
    draw_spoke_labels(&mut canvas, &dial, rose.sets);
    draw_ring_labels(&mut canvas, &dial, sectors.ring);
    draw_set_labels(&mut canvas, &dial, rose.sets);
    if !rose.hidden.is_empty() {
        canvas.text_in(
            [4.0, HEIGHT - 6.0],
            Anchor::Start,
            SMALL,
            Ink::Mid,
            "Grey fan: directions the light may have hidden.",
        );
    }
    canvas.finish(title, describe(rose, &sectors), PANEL_WIDTH, HEIGHT)
}

/// Circle that a rose is drawn in.
pub(crate) struct Dial {
    pub(crate) centre: [f64; 2],
    pub(crate) radius: f64,
}

impl Dial {
    /// Point at an angle (degrees, counter-clockwise as seen) and a share of the radius.
    fn at(&self, angle_deg: f64, radius: f64) -> [f64; 2] {
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        [self.centre[0] + radius * cos, self.centre[1] - radius * sin]
    }

    /// Path of a fan between two angles.
    fn fan(&self, from_deg: f64, to_deg: f64, radius: f64) -> String {
        let ([x1, y1], [x2, y2]) = (self.at(from_deg, radius), self.at(to_deg, radius));
        let [cx, cy] = self.centre;
        format!(
            "M{} {}L{} {}A{r} {r} 0 0 0 {} {}Z",
            number(cx),
            number(cy),
            number(x1),
            number(y1),
            number(x2),
            number(y2),
            r = number(radius)
        )
    }

    /// Path of an arc between two angles.
    fn arc(&self, from_deg: f64, to_deg: f64, radius: f64) -> String {
        let ([x1, y1], [x2, y2]) = (self.at(from_deg, radius), self.at(to_deg, radius));
        let r = number(radius);
        format!("M{} {}A{r} {r} 0 0 0 {} {}", number(x1), number(y1), number(x2), number(y2))
    }
}

/// The sectors of a rose.
pub(crate) struct Sectors {
    /// Width of one, degrees.
    pub(crate) width_deg: f64,
    /// Share of the weight in the sector centred on `index × width_deg`.
    pub(crate) shares: Vec<f64>,
    /// Share that the outer ring stands for.
    pub(crate) ring: f64,
}

/// Sorts directions into sectors centred on multiples of their width, so that a lay along 0° is not split in two.
pub(crate) fn sectors(directions: &[Direction]) -> Sectors {
    let width_deg = if directions.len() >= FINE_FROM { 5.0 } else { 10.0 };
    let mut shares = vec![0.0; (180.0 / width_deg) as usize];
    let sector_count = shares.len();
    for direction in directions {
        let index = (direction.axis.degrees() / width_deg).round() as usize % sector_count;
        if let Some(share) = shares.get_mut(index) {
            *share += direction.weight.max(0.0);
        }
    }
    let total: f64 = shares.iter().sum();
    if total > 0.0 {
        for share in &mut shares {
            *share /= total;
        }
    }
    let largest = shares.iter().copied().fold(0.0, f64::max);
    let ring =
        [0.08, 0.12, 0.16, 0.2, 0.28, 0.4, 0.6, 0.8].into_iter().find(|ring| *ring >= largest).unwrap_or(1.0);
    Sectors { width_deg, shares, ring }
}

/// Rings, fans, ticks and set axes, without any text but the ring labels.
pub(crate) fn draw_dial(canvas: &mut Canvas, dial: &Dial, sectors: &Sectors, rose: &Rose<'_>) {
    for hidden in rose.hidden {
        let (axis, half) = (hidden.axis.degrees(), hidden.half_width_deg.clamp(0.0, 89.0));
        for turn in [0.0, 180.0] {
            let fan = dial.fan(axis - half + turn, axis + half + turn, dial.radius);
            canvas.path(&fan, Some(Ink::Wash), Pen::solid(Ink::Wash, 0.5));
        }
    }
    for spoke_deg in [0.0, 30.0, 60.0, 90.0, 120.0, 150.0] {
        canvas.line(
            dial.at(spoke_deg, dial.radius),
            dial.at(spoke_deg + 180.0, dial.radius),
            Pen::solid(Ink::Faint, 0.5),
        );
    }
    // Under the fans, so that it never hides them; outside the circle the axis goes on as a tick.
    for set in rose.sets {
        let axis = set.direction.degrees();
        canvas.line(
            dial.at(axis, dial.radius),
            dial.at(axis + 180.0, dial.radius),
            Pen::dashed(Ink::Second, 1.2),
        );
    }
    for (index, share) in sectors.shares.iter().enumerate() {
        if *share <= 0.0 {
            continue;
        }
        let centre_deg = index as f64 * sectors.width_deg;
        let radius = dial.radius * (share / sectors.ring).sqrt();
        let half = sectors.width_deg / 2.0;
        for turn in [0.0, 180.0] {
            let fan = dial.fan(centre_deg - half + turn, centre_deg + half + turn, radius);
            canvas.path(&fan, Some(Ink::First), Pen::solid(Ink::Paper, 0.5));
        }
    }
    // A quarter of the share has half the radius.
    canvas.circle(dial.centre, dial.radius / 2.0, Pen::dotted(Ink::Mid, 0.7));
    canvas.circle(dial.centre, dial.radius, Pen::solid(Ink::Dark, 0.8));
    if rose.directions.len() <= TICKS_AT_MOST {
        for direction in rose.directions {
            for turn in [0.0, 180.0] {
                let angle = direction.axis.degrees() + turn;
                canvas.line(
                    dial.at(angle, dial.radius),
                    dial.at(angle, dial.radius + 4.0),
                    Pen::solid(Ink::Mid, 0.4),
                );
            }
        }
    }
    for set in rose.sets {
        let axis = set.direction.degrees();
        for turn in [0.0, 180.0] {
            let (from, to) = (dial.at(axis + turn, dial.radius), dial.at(axis + turn, dial.radius + 11.0));
            canvas.line(from, to, Pen::solid(Ink::Second, 1.8));
        }
        if let Some(half) = set.half_width_95_deg.filter(|half| half.is_finite()) {
            let half = half.clamp(0.3, 89.0);
            for turn in [0.0, 180.0] {
                let arc = dial.arc(axis - half + turn, axis + half + turn, dial.radius + 8.0);
                canvas.path(&arc, None, Pen::solid(Ink::Second, 2.6));
            }
        }
    }
}

fn draw_spoke_labels(canvas: &mut Canvas, dial: &Dial, sets: &[Set]) {
    for spoke_deg in [0.0_f64, 30.0, 60.0, 90.0, 120.0, 150.0] {
        let crowded = sets.iter().any(|set| {
            let apart = (set.direction.degrees() - spoke_deg).abs();
            apart.min(180.0 - apart) < 14.0 + beside(spoke_deg)
        });
        if !crowded {
            put_outside(canvas, dial, spoke_deg, 17.0, SMALL, [&format!("{spoke_deg:.0}°"), ""]);
        }
    }
}

/// The rings' shares on a patch of paper, so that a fan does not swallow them.
fn draw_ring_labels(canvas: &mut Canvas, dial: &Dial, ring: f64) {
    for (share, radius) in [(ring, dial.radius), (ring / 4.0, dial.radius / 2.0)] {
        let [x, y] = dial.at(285.0, radius);
        let label = words::percent(share);
        let width = 6.0 + label.chars().count() as f64 * 5.4;
        canvas.rectangle([x - width / 2.0, y - 7.0], [width, 13.0], Ink::Paper);
        canvas.text([x, y + 3.5], Anchor::Middle, SMALL, &label);
    }
}

fn draw_set_labels(canvas: &mut Canvas, dial: &Dial, sets: &[Set]) {
    let mut upper: Vec<f64> = Vec::new();
    for set in sets {
        let axis = set.direction.degrees();
        let crowded = upper.iter().any(|other| {
            let apart = (axis - other).abs();
            apart.min(180.0 - apart) < 16.0 + beside(axis)
        });
        if !crowded {
            upper.push(axis);
        }
        let at = if crowded { axis + 180.0 } else { axis };
        let half = set.half_width_95_deg.map(|half| format!("± {:.0}°", half.max(1.0)));
        // Beside the circle there is no room for a line of both.
        let (first, second) = match half {
            Some(half) if axis.to_radians().cos().abs() > SIDEWAYS => (format!("{axis:.0}°"), half),
            Some(half) => (format!("{axis:.0}° {half}"), String::new()),
            None => (format!("{axis:.0}°"), String::new()),
        };
        put_outside(canvas, dial, at, SET_GAP, TEXT, [&first, &second]);
    }
}

/// How much farther apart labels must be above and below the circle, where they stand beside each other, degrees.
fn beside(angle_deg: f64) -> f64 {
    16.0 * angle_deg.to_radians().sin().abs()
}

/// A label of one or two lines outside the circle, hung so that it grows away from it.
fn put_outside(canvas: &mut Canvas, dial: &Dial, angle_deg: f64, gap: f64, size: f64, lines: [&str; 2]) {
    let [x, y] = dial.at(angle_deg, dial.radius + gap);
    let cos = angle_deg.to_radians().cos();
    let anchor = if cos > 0.3 {
        Anchor::Start
    } else if cos < -0.3 {
        Anchor::End
    } else {
        Anchor::Middle
    };
    let shift = if anchor == Anchor::Start {
        -8.0
    } else if anchor == Anchor::End {
        8.0
    } else {
        0.0
    };
    let [first, second] = lines;
    let up = if second.is_empty() { 0.0 } else { 0.6 * size };
    canvas.text([x + shift, y + 4.0 - up], anchor, size, first);
    if !second.is_empty() {
        canvas.text([x + shift, y + 4.0 + up], anchor, size, second);
    }
}

pub(crate) fn set_words(sets: &[Set]) -> String {
    let each: Vec<String> = sets
        .iter()
        .map(|set| {
            let half = set
                .half_width_95_deg
                .map(|half| format!(" ± {} (95 %)", words::half_angle(half)))
                .unwrap_or_default();
            format!("{:.1}°{half} with {} of the weight", set.direction.degrees(), words::percent(set.share))
        })
        .collect();
    match each.len() {
        0 => "No set of parallel traces stands out.".to_owned(),
        1 => format!("One set: {}.", words::list(&each)),
        number => format!("{number} sets: {}.", words::list(&each)),
    }
}

fn describe(rose: &Rose<'_>, sectors: &Sectors) -> String {
    let fullest =
        sectors.shares.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(index, _)| index);
    let hidden: Vec<String> = rose
        .hidden
        .iter()
        .map(|hidden| {
            let (axis, half) = (hidden.axis.degrees(), hidden.half_width_deg);
            format!(" The light may have hidden directions within {half:.0}° of {axis:.0}°.")
        })
        .collect();
    format!(
        "Axial rose of {}, weighted by {}, 0° to the right, counter-clockwise; area shows the share. The fullest sector of {:.0}° \
         is at {:.0}° with {}. {}{}",
        words::count(rose.directions.len(), "trace"),
        rose.weighting,
        sectors.width_deg,
        fullest as f64 * sectors.width_deg,
        words::percent(sectors.shares.get(fullest).copied().unwrap_or(0.0)),
        set_words(rose.sets),
        hidden.concat()
    )
}

#[cfg(test)]
mod tests {
    use quantity::AxialDeg;

    use super::*;

    fn directions(angles_deg: &[f64]) -> Vec<Direction> {
        angles_deg
            .iter()
            .map(|angle| Direction { axis: AxialDeg::new(*angle).unwrap(), weight: 1.0 })
            .collect()
    }

    fn of<'a>(directions: &'a [Direction], sets: &'a [Set]) -> Rose<'a> {
        Rose { heading: "station A", directions, weighting: "number", sets, hidden: &[] }
    }

    /// A trace that rises to the right on the picture (y down: towards smaller y) must point up and to the right.
    #[test]
    fn thirty_degrees_point_up_and_right() {
        let axis = AxialDeg::from_pixel_step(3f64.sqrt(), -1.0).unwrap();
        let dial = Dial { centre: [0.0, 0.0], radius: 1.0 };
        let [x, y] = dial.at(axis.degrees(), 1.0);
        assert!((x - 0.75f64.sqrt()).abs() < 1e-12 && (y + 0.5).abs() < 1e-12, "({x}, {y})");
        let (dx, dy) = axis.pixel_step();
        assert!((x - dx).abs() < 1e-12 && (y - dy).abs() < 1e-12, "the dial and the picture disagree");
    }

    #[test]
    fn sectors_match_the_data() {
        let sectors = sectors(&directions(&[0.0, 179.0, 4.0, 31.0, 90.0]));
        assert_eq!(sectors.shares.len(), 18);
        let share = |index: usize| sectors.shares.get(index).copied().unwrap();
        assert!((share(0) - 0.6).abs() < 1e-12, "0°, 179° and 4° are one lay");
        assert!((share(3) - 0.2).abs() < 1e-12 && (share(9) - 0.2).abs() < 1e-12);
        assert!((sectors.shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert!(sectors.ring >= 0.6);
    }

    /// Twice the share must give twice the area.
    #[test]
    fn area_is_share() {
        let directions = directions(&[30.0, 30.0, 30.0, 30.0, 120.0]);
        let sectors = sectors(&directions);
        let mut canvas = Canvas::default();
        let dial = Dial { centre: [0.0, 0.0], radius: 100.0 };
        draw_dial(&mut canvas, &dial, &sectors, &of(&directions, &[]));
        let svg = canvas.finish("", "", 1.0, 1.0).svg("r");
        let radii: Vec<f64> = svg
            .split("<path d=\"M0 0L")
            .skip(1)
            .map(|path| path.split('A').nth(1).unwrap().split(' ').next().unwrap().parse().unwrap())
            .collect();
        assert_eq!(radii.len(), 4, "two fans for each of two axes");
        let ratio = (radii[0] / radii[2]).powi(2);
        assert!((ratio - 4.0).abs() < 0.01, "area ratio {ratio}");
    }

    #[test]
    fn none_one_and_ten_thousand_traces() {
        assert!(rose(&of(&[], &[])).svg("r").contains("no counted traces"));
        let one = directions(&[42.0]);
        assert!(rose(&of(&one, &[])).svg("r").contains("1 trace; by number"));
        let many = directions(&(0..10_000).map(|index| f64::from(index) * 0.37).collect::<Vec<_>>());
        let svg = rose(&of(&many, &[])).svg("r");
        assert!(svg.contains("10,000 traces") && svg.len() < 40_000, "{} bytes", svg.len());
    }
}
