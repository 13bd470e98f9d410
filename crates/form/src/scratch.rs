//! Scratches on height maps: the mean cross-section along a path.

use quantity::Measured;

use crate::fillet::places_along;
use crate::row::{Row, Rows};
use crate::{HeightMap, MeasureError, ProfileShape, profile_shape};

/// Mean cross-section of a scratch.
#[derive(Debug, Clone, PartialEq)]
pub struct ScratchProfile {
    /// Points `[t, z]` of the mean section, µm: across (positive to the right of the path) and height.
    pub section_um: Vec<[f64; 2]>,
    /// Its shape, lengths in µm.
    pub shape: ProfileShape,
    /// Depth with the uncertainty that the scatter along the scratch shows, µm.
    pub depth_um: Measured,
    /// Width between the edges, likewise, µm.
    pub width_um: Measured,
    /// Area of the cross-section, likewise, µm².
    pub area_um2: Measured,
    /// Sections averaged.
    pub sections: usize,
}

/// Share of the section at either end that is surface beside the scratch (our choice).
const SHOULDER: f64 = 0.25;
/// Parts of the scratch left out in turn for the uncertainty.
const PARTS: usize = 10;

/// Depth, width and cross-section of a scratch on a height map.
///
/// `path_um` are the points of a trace, µm from the centre of the top-left pixel, x right, y down; sections of
/// `half_width_um` to either side are averaged along it. Uncertainties come from leaving out a tenth of the scratch in
/// turn (jackknife), so they hold what changes along it as well as noise.
///
/// # Errors
/// [`MeasureError::BadSetting`] for a half width below four steps of the map, [`MeasureError::TooFewPoints`] with fewer
/// than ten sections on measured heights, and those of [`profile_shape`].
pub fn scratch_profile(
    map: &HeightMap,
    path_um: &[[f64; 2]],
    half_width_um: f64,
) -> Result<ScratchProfile, MeasureError> {
    let step = map.dx_um().min(map.dy_um());
    if !(half_width_um.is_finite() && half_width_um >= 4.0 * step) {
        return Err(MeasureError::BadSetting {
            name: "half width of the section, µm",
            found: half_width_um,
            needed: "at least four steps of the height map",
        });
    }
    let path: Vec<[f64; 3]> = path_um.iter().map(|p| [p[0], p[1], 0.0]).collect();
    let reach = (half_width_um / step).floor() as i64;
    let offsets: Vec<f64> = (-reach..=reach).map(|k| k as f64 * step).collect();
    let sections: Vec<Vec<f64>> = places_along(&path, step)?
        .iter()
        .filter_map(|(_, place, tangent)| {
            let at = |t: &f64| map.at_um([place.x - t * tangent.y, place.y + t * tangent.x]);
            offsets.iter().map(at).collect::<Option<Vec<f64>>>()
        })
        .collect();
    if sections.len() < PARTS {
        let found = sections.len();
        return Err(MeasureError::TooFewPoints {
            what: "a scratch profile (whole sections)",
            found,
            needed: PARTS,
        });
    }
    let mean_without = |part: Option<usize>| -> Vec<[f64; 2]> {
        let kept: Vec<&Vec<f64>> = (0..sections.len())
            .filter(|k| part.is_none_or(|part| k * PARTS / sections.len() != part))
            .map(|k| &sections[k])
            .collect();
        let mean =
            |column: usize| kept.iter().map(|section| section[column]).sum::<f64>() / kept.len() as f64;
        offsets.iter().enumerate().map(|(column, &t)| [t, mean(column)]).collect()
    };
    let section_um = mean_without(None);
    let shape = profile_shape(&section_um, SHOULDER)?;
    let parts: Vec<ProfileShape> =
        (0..PARTS).filter_map(|part| profile_shape(&mean_without(Some(part)), SHOULDER).ok()).collect();
    let jackknife = |of: &dyn Fn(&ProfileShape) -> f64| {
        let count = parts.len() as f64;
        let mean = parts.iter().map(of).sum::<f64>() / count;
        let squares: f64 = parts.iter().map(|p| (of(p) - mean).powi(2)).sum();
        Measured { value: of(&shape), u: (squares * (count - 1.0) / count).sqrt() }
    };
    Ok(ScratchProfile {
        depth_um: jackknife(&|s| s.depth.value),
        width_um: jackknife(&|s| s.width.value),
        area_um2: jackknife(&|s| s.area),
        sections: sections.len(),
        section_um,
        shape,
    })
}

impl Rows for ScratchProfile {
    fn rows(&self) -> Vec<Row> {
        let mut rows = vec![
            Row::new("Depth of the scratch", self.depth_um, "µm"),
            Row::new("Width of the scratch", self.width_um, "µm"),
            Row::new("Area of its cross-section", self.area_um2, "µm²"),
            Row::plain("Area piled up along its edges", self.shape.pile_up, "µm²"),
        ];
        for (side, wall) in [("left", self.shape.left), ("right", self.shape.right)] {
            if let Some(angle) = wall.angle_deg {
                rows.push(Row::plain(format!("Angle of the {side} wall"), angle, "°"));
            }
        }
        rows.push(Row::plain("Sections averaged", self.sections as f64, ""));
        rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};
    use rand_pcg::Pcg64;

    /// A V of 8 µm width and 1 µm depth across the map at 30°, in noise of 0.1 µm.
    #[test]
    fn a_shallow_scratch_in_noise() {
        let mut random = Pcg64::seed_from_u64(9);
        let noise = Normal::new(0.0, 0.1).unwrap();
        let (sin, cos) = 30_f64.to_radians().sin_cos();
        let mut z = Vec::new();
        for row in 0..300 {
            for column in 0..300 {
                let across = (f64::from(row) - 150.0) * cos - (f64::from(column) - 150.0) * sin;
                let across_um = across * 0.5;
                z.push((across_um.abs() / 4.0 - 1.0).min(0.0) + noise.sample(&mut random));
            }
        }
        let map = HeightMap::new(300, 300, 0.5, 0.5, z).unwrap();
        let end = |side: f64| [(150.0 + side * 120.0 * cos) * 0.5, (150.0 + side * 120.0 * sin) * 0.5];
        let found = scratch_profile(&map, &[end(-1.0), end(1.0)], 12.0).unwrap();
        assert!((found.depth_um.value - 1.0).abs() < 0.06, "{:?}", found.depth_um);
        assert!((found.width_um.value - 8.0).abs() < 0.5, "{:?}", found.width_um);
        assert!(
            (found.area_um2.value - 4.0).abs() < 4.0 * found.area_um2.u.max(0.05),
            "{:?}",
            found.area_um2
        );
        assert!(found.depth_um.u > 0.0 && found.depth_um.u < 0.1);
        assert!(scratch_profile(&map, &[end(-1.0), end(1.0)], 1.0).is_err());
    }
}
