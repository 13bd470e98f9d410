//! A height map as a grey plane, so that traces are found on it by the same means as on a micrograph.

use picture::Grey;
use quantity::UmPerPx;

use crate::texture::gaussian_split;
use crate::{HeightMap, MeasureError};

/// Heights as grey values.
#[derive(Debug, Clone, PartialEq)]
pub struct GreyPlane {
    /// Low is dark, high is light; heights that were not measured are mid-grey.
    pub grey: Grey,
    /// Scale of the plane, with no uncertainty of its own.
    pub scale: UmPerPx,
    /// Height from black to white, µm.
    pub range_um: f64,
    /// Share of heights beyond black or white.
    pub clipped: f64,
}

/// Black and white lie this many times the root mean square height apart from the middle: deep scratches stay inside
/// (our choice).
const SPREAD: f64 = 6.0;

/// Turns heights into grey values around mid-grey after taking out waves longer than `cutoff_um` (the form of the face
/// would drown its scratches). A map with unequal steps is resampled to square pixels of the smaller one.
///
/// # Errors
/// [`MeasureError::BadSetting`] for a cutoff of less than two steps, [`MeasureError::Degenerate`] for a surface without
/// any height differences.
pub fn grey_plane(map: &HeightMap, cutoff_um: f64) -> Result<GreyPlane, MeasureError> {
    let square = square_pixels(map)?;
    let (_, rough) = gaussian_split(&square, cutoff_um)?;
    let measured: Vec<f64> = rough.z_um().iter().copied().filter(|z| !z.is_nan()).collect();
    let count = measured.len() as f64;
    let mean = measured.iter().sum::<f64>() / count;
    let rms = (measured.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / count).sqrt();
    if rms <= 0.0 {
        return Err(MeasureError::Degenerate {
            what: "grey plane",
            fault: "the surface has no height differences",
        });
    }
    let half = SPREAD * rms;
    let value =
        |z: &f64| if z.is_nan() { 0.5 } else { (0.5 + (z - mean) / (2.0 * half)).clamp(0.0, 1.0) as f32 };
    let clipped = measured.iter().filter(|z| (*z - mean).abs() > half).count() as f64 / count;
    let values = rough.z_um().iter().map(value).collect();
    let unusable = MeasureError::Degenerate {
        what: "grey plane",
        fault: "the step of the map is not usable as a scale",
    };
    let grey = Grey::new(square.width(), square.height(), values).ok_or_else(|| unusable.clone())?;
    let scale = UmPerPx::new(square.dx_um(), 0.0).ok_or(unusable)?;
    Ok(GreyPlane { grey, scale, range_um: 2.0 * half, clipped })
}

fn square_pixels(map: &HeightMap) -> Result<HeightMap, MeasureError> {
    let (dx, dy) = (map.dx_um(), map.dy_um());
    // Steps that agree to a part in a million differ by less than a pixel over any picture.
    if (dx - dy).abs() <= 1e-6 * dx {
        return Ok(map.clone());
    }
    let step = dx.min(dy);
    let cells = |count: usize, step_was: f64| ((count - 1) as f64 * step_was / step).floor() as usize + 1;
    let (width, height) = (cells(map.width(), dx), cells(map.height(), dy));
    if width.saturating_mul(height) > 4 * map.z_um().len().max(1 << 20) {
        return Err(MeasureError::BadSetting {
            name: "ratio of the steps of the height map",
            found: dx.max(dy) / step,
            needed: "small enough that square pixels do not multiply it fourfold",
        });
    }
    let mut z = Vec::with_capacity(width * height);
    for row in 0..height {
        z.extend(
            (0..width).map(|column| map.at_um([column as f64 * step, row as f64 * step]).unwrap_or(f64::NAN)),
        );
    }
    HeightMap::new(width, height, step, step, z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scratch_on_a_domed_face_is_darker_than_what_is_beside_it() {
        let height = |x: i32, y: i32| {
            let dome = -0.01 * f64::from((x - 60).pow(2) + (y - 60).pow(2));
            dome - if x == 40 { 2.0 } else { 0.0 }
        };
        let z = (0..120 * 120).map(|i| height(i % 120, i / 120)).collect();
        let map = HeightMap::new(120, 120, 1.0, 1.0, z).unwrap();
        let plane = grey_plane(&map, 20.0).unwrap();
        for y in 30..90 {
            let row = plane.grey.row(y);
            assert!(row[40] < row[36] - 0.1 && row[40] < row[44] - 0.1);
            assert!((row[60] - row[70]).abs() < 0.02, "the dome is gone");
        }
    }

    #[test]
    fn unequal_steps_become_square() {
        let z = (0..50 * 20).map(|i| f64::from(i % 7)).collect();
        let map = HeightMap::new(50, 20, 1.0, 2.0, z).unwrap();
        let plane = grey_plane(&map, 10.0).unwrap();
        assert_eq!((plane.grey.width(), plane.grey.height()), (50, 39));
        assert_eq!(plane.scale.value(), 1.0);
    }
}
