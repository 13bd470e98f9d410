//! The last steps after decoding: upright, gaps mended, facts gathered.

use super::Decoded;
use super::canvas::{Canvas, Plane};
use super::orient::upright;
use crate::facts::{ColourNote, Facts, Format};

/// Turns the canvas upright and gathers what is known.
pub(super) fn facts(format: Format, decoded: Decoded) -> (Canvas, Facts) {
    let Decoded { canvas, bits, channels, colour, exif, pages, mut notes } = decoded;
    let tag = exif.orientation.clamp(1, 8);
    let Canvas { width, height, plane, tone } = canvas;
    let (plane, width, height) = match plane {
        Plane::Grey(values) => {
            let (values, width, height) = upright::<f32, 1>(values, width, height, tag);
            (Plane::Grey(values), width, height)
        }
        Plane::Rgb(values) => {
            let (values, width, height) = upright::<u8, 3>(values, width, height, tag);
            (Plane::Rgb(values), width, height)
        }
    };
    if pages > 1 {
        notes.push(format!("the file holds {pages} pages or frames: only the first is read"));
    }
    notes.extend(exif.note);
    let facts = Facts {
        format,
        width_px: width,
        height_px: height,
        bits,
        channels,
        colour,
        orientation_applied: tag,
        taken_at: exif.taken_at,
        camera: exif.camera,
        exif: exif.fields,
        pages,
        notes,
    };
    (Canvas { width, height, plane, tone }, facts)
}

/// Depths that cameras store in 16-bit files, with their largest code.
const SMALLER_DEPTHS: [(u32, f32); 3] = [(10, 1023.0), (12, 4095.0), (14, 16_383.0)];

/// Replaces values that are no finite numbers by their left (at the edge: upper) neighbour, and brings floating-point pictures and pictures
/// that fill only part of their 16 bits to the 0–1 scale, with notes. `None` if no value is finite.
pub(super) fn mend(mut values: Vec<f32>, facts: &mut Facts) -> Option<Vec<f32>> {
    if facts.colour == ColourNote::Float {
        fill_gaps(&mut values, facts)?;
        stretch_floats(&mut values, facts);
    } else if facts.bits == 16 {
        widen_depth(&mut values, facts);
    }
    values.iter_mut().for_each(|value| *value = value.clamp(0.0, 1.0));
    Some(values)
}

fn fill_gaps(values: &mut [f32], facts: &mut Facts) -> Option<()> {
    let mut last = *values.iter().find(|value| value.is_finite())?;
    let mut gaps = 0usize;
    for value in values.iter_mut() {
        if value.is_finite() {
            last = *value;
        } else {
            *value = last;
            gaps += 1;
        }
    }
    if gaps > 0 {
        let share = 100.0 * gaps as f64 / values.len() as f64;
        facts.notes.push(format!(
            "{gaps} pixels ({share:.2} %) hold no finite number and take the value of their neighbour"
        ));
    }
    Some(())
}

fn stretch_floats(values: &mut [f32], facts: &mut Facts) {
    let (low, high) =
        values.iter().fold((f32::INFINITY, f32::NEG_INFINITY), |(low, high), &v| (low.min(v), high.max(v)));
    if (0.0..=1.0).contains(&low) && (0.0..=1.0).contains(&high) {
        return;
    }
    facts
        .notes
        .push(format!("floating-point values from {low:.6} to {high:.6} are stretched to black and white"));
    // In double precision: the span of two finite f32 may overflow f32.
    let span = f64::from(high) - f64::from(low);
    let factor = if span > 0.0 { 1.0 / span } else { 0.0 };
    values.iter_mut().for_each(|value| *value = ((f64::from(*value) - f64::from(low)) * factor) as f32);
}

fn widen_depth(values: &mut [f32], facts: &mut Facts) {
    let highest = values.iter().fold(0.0f32, |high, &v| high.max(v)) * 65_535.0;
    if facts.channels > 2 || highest < 255.5 || facts.colour != ColourNote::Assumed {
        return;
    }
    if let Some((bits, largest)) = SMALLER_DEPTHS.iter().find(|(_, largest)| highest <= largest + 0.5) {
        facts.notes.push(format!("the 16-bit values reach only {highest:.0}: taken as {bits}-bit values"));
        let factor = 65_535.0 / largest;
        values.iter_mut().for_each(|value| *value *= factor);
    }
}
