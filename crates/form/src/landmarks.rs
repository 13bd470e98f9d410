//! Symmetry from pairs of landmarks on one frontal photograph.

use nalgebra::{Matrix2, Matrix3, SMatrix, SVector, Vector2, Vector3};
use quantity::Measured;

use crate::MeasureError;
use crate::row::{Row, Rows};

/// Two landmarks that should be each other's mirror image, pixels (x right, y down).
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// What they mark, such as "outer corner of the eye".
    pub name: String,
    /// The one left of the axis.
    pub left_px: [f64; 2],
    /// The one right of it; equal to the left one for a point on the axis itself.
    pub right_px: [f64; 2],
}

/// A photographed rectangle of known size: what turns pixels into millimetres of its plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rectification {
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// Its corners on the photograph: top left, top right, bottom right, bottom left, pixels.
    pub corners_px: [[f64; 2]; 4],
}

/// What the caller states about the clicks and the scene.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandmarkOptions {
    /// Standard uncertainty of one clicked coordinate, pixels.
    pub u_click_px: f64,
    /// How far landmarks may lie before or behind the rectangle's plane (half the range), and the distance of the
    /// camera, mm: together they say what perspective the rectangle cannot take out.
    pub relief_and_distance_mm: Option<(f64, f64)>,
}

/// A map from the photograph to the plane of a rectangle, mm (y down, origin at its top-left corner).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rectified {
    matrix: Matrix3<f64>,
}

/// Symmetry of landmark pairs.
#[derive(Debug, Clone, PartialEq)]
pub struct LandmarkSymmetry {
    /// Direction of the axis, degrees counter-clockwise as seen from +x, in `[0, 180)`.
    pub axis_deg: Measured,
    /// A point of the axis nearest to the middle of all landmarks, in `unit`.
    pub axis_point: [f64; 2],
    /// Standard uncertainty of the axis across itself at that point, in `unit`.
    pub axis_u: f64,
    /// For each pair, how far the mirrored left landmark lies from the right one, with its uncertainty, in `unit`.
    pub deviations: Vec<(String, Measured)>,
    /// Median and largest-but-5-% of the deviations, in `unit`.
    pub median: f64,
    /// See `median`.
    pub p95: f64,
    /// Distance between the outermost landmarks across the axis, in `unit`.
    pub width: f64,
    /// Standard uncertainty of one deviation that relief leaves, in `unit`; 0 if not stated.
    pub relief_u: f64,
    /// Whether a rectangle corrected the perspective.
    pub rectified: bool,
    /// Unit sign: "mm" after rectification, else "px".
    pub unit: &'static str,
}

/// The map of a rectangle's plane.
///
/// # Errors
/// [`MeasureError::Degenerate`] if three corners lie on one line or they are not in order,
/// [`MeasureError::BadSetting`] if a side is not finite and positive.
///
/// # Source
/// The projective map of four points, eight linear equations (Hartley & Zisserman, Multiple View Geometry, 2004,
/// section 2.1; from memory, source not seen).
pub fn rectification(rectangle: &Rectification) -> Result<Rectified, MeasureError> {
    let [width, height] = rectangle.size_mm;
    for side in [width, height] {
        if !(side.is_finite() && side > 0.0) {
            return Err(MeasureError::BadSetting {
                name: "side of the rectangle, mm",
                found: side,
                needed: "positive",
            });
        }
    }
    let fault = MeasureError::Degenerate {
        what: "rectification",
        fault: "the corners must go round once: top left, top right, bottom right, bottom left",
    };
    let corners = rectangle.corners_px;
    let turn = |k: usize| {
        let [a, b, c] = [corners[k], corners[(k + 1) % 4], corners[(k + 2) % 4]];
        (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
    };
    if !(0..4).all(|k| turn(k) > 0.0) {
        return Err(fault);
    }
    let plane = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]];
    let mut matrix = SMatrix::<f64, 8, 8>::zeros();
    let mut right = SVector::<f64, 8>::zeros();
    for (k, ([x, y], [u, v])) in corners.into_iter().zip(plane).enumerate() {
        let rows = [[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y]];
        for (half, row) in rows.into_iter().enumerate() {
            matrix.set_row(2 * k + half, &row.into());
            right[2 * k + half] = [u, v][half];
        }
    }
    let h = matrix.full_piv_lu().solve(&right).ok_or(fault)?;
    Ok(Rectified { matrix: Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0) })
}

impl Rectified {
    /// A point of the photograph on the rectangle's plane, mm; `None` at or beyond the plane's horizon.
    #[must_use]
    pub fn to_mm(&self, px: [f64; 2]) -> Option<[f64; 2]> {
        let p = self.matrix * Vector3::new(px[0], px[1], 1.0);
        (p.z > 1e-9).then(|| [p.x / p.z, p.y / p.z])
    }
}

/// The axis that best mirrors the left landmarks onto the right ones, and what departs from it.
///
/// Needs at least two pairs, three for an uncertainty that says something. Perspective is corrected when the
/// rectangle is given, for points of its plane only.
///
/// # Errors
/// [`MeasureError::TooFewPoints`], [`MeasureError::BadSetting`], [`MeasureError::Degenerate`] for a landmark beyond the
/// horizon of the rectangle's plane or pairs that define no axis, and those of [`rectification`].
///
/// # Source
/// Least squares over the mirrored distances, Gauss–Newton; uncertainties of clicks carried by the law of
/// propagation (JCGM 100:2008, 5.1.2).
pub fn landmark_symmetry(
    pairs: &[Pair],
    rectangle: Option<&Rectification>,
    options: &LandmarkOptions,
) -> Result<LandmarkSymmetry, MeasureError> {
    if pairs.len() < 2 {
        return Err(MeasureError::TooFewPoints { what: "a symmetry axis", found: pairs.len(), needed: 2 });
    }
    if !(options.u_click_px.is_finite() && options.u_click_px >= 0.0) {
        let found = options.u_click_px;
        return Err(MeasureError::BadSetting {
            name: "uncertainty of a click, px",
            found,
            needed: "not negative",
        });
    }
    let map = rectangle.map(rectification).transpose()?;
    let placed = pairs
        .iter()
        .map(|pair| Some([place(map.as_ref(), pair.left_px)?, place(map.as_ref(), pair.right_px)?]))
        .collect::<Option<Vec<_>>>()
        .ok_or(MeasureError::Degenerate {
            what: "symmetry axis",
            fault: "a landmark is not finite or lies beyond the horizon of the rectangle's plane",
        })?;
    let axis = Axis::fit(&placed)?;
    // Size of a click on the plane, at the middle of the landmarks.
    let u_click = options.u_click_px * unit_per_px(map.as_ref(), pairs);
    let covariance = axis.covariance(&placed, u_click)?;
    let relief_u = match options.relief_and_distance_mm {
        Some((relief, distance)) if map.is_some() => axis.relief_u(&placed, relief, distance)?,
        _ => 0.0,
    };
    Ok(axis.summary(pairs, &placed, covariance, u_click, relief_u, map.is_some()))
}

fn place(map: Option<&Rectified>, px: [f64; 2]) -> Option<[f64; 2]> {
    let placed = map.map_or(Some(px), |map| map.to_mm(px))?;
    placed.iter().all(|c| c.is_finite()).then_some(placed)
}

fn unit_per_px(map: Option<&Rectified>, pairs: &[Pair]) -> f64 {
    let Some(map) = map else { return 1.0 };
    let count = 2.0 * pairs.len() as f64;
    let middle =
        pairs.iter().flat_map(|p| [p.left_px, p.right_px]).fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
    let middle = middle.map(|c| c / count);
    let step = |dx: f64, dy: f64| {
        let (a, b) =
            (map.to_mm([middle[0] - dx, middle[1] - dy])?, map.to_mm([middle[0] + dx, middle[1] + dy])?);
        Some((b[0] - a[0]).hypot(b[1] - a[1]))
    };
    match (step(0.5, 0.0), step(0.0, 0.5)) {
        (Some(x), Some(y)) => (x * y).sqrt(),
        _ => f64::NAN,
    }
}

/// An axis by the angle of its normal and its distance from the middle of the landmarks.
struct Axis {
    middle: [f64; 2],
    normal_rad: f64,
    distance: f64,
}

impl Axis {
    fn fit(placed: &[[[f64; 2]; 2]]) -> Result<Self, MeasureError> {
        let fault = MeasureError::Degenerate {
            what: "symmetry axis",
            fault: "the pairs define no axis; mark pairs that lie apart from each other",
        };
        let count = 2.0 * placed.len() as f64;
        let sum = placed.iter().flatten().fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
        let middle = sum.map(|c| c / count);
        // The steps from left to right, as axes, point along the normal.
        let (sin, cos) = placed.iter().fold((0.0, 0.0), |(sin, cos), [left, right]| {
            let (dx, dy) = (right[0] - left[0], right[1] - left[1]);
            let twice = 2.0 * dy.atan2(dx);
            (sin + dx.hypot(dy) * twice.sin(), cos + dx.hypot(dy) * twice.cos())
        });
        if sin == 0.0 && cos == 0.0 {
            return Err(fault);
        }
        let mut axis = Self { middle, normal_rad: sin.atan2(cos) / 2.0, distance: 0.0 };
        for _ in 0..50 {
            let (matrix, right) = axis.normal_equations(placed);
            let inverse = matrix.try_inverse().ok_or_else(|| fault.clone())?;
            let change = inverse * right;
            axis.normal_rad -= change[0];
            axis.distance -= change[1];
            if change[0].abs() < 1e-14 {
                break;
            }
        }
        Ok(axis)
    }

    fn normal(&self) -> [f64; 2] {
        [self.normal_rad.cos(), self.normal_rad.sin()]
    }

    fn height(&self, p: [f64; 2]) -> f64 {
        let n = self.normal();
        n[0] * (p[0] - self.middle[0]) + n[1] * (p[1] - self.middle[1]) - self.distance
    }

    fn residual(&self, [left, right]: &[[f64; 2]; 2]) -> [f64; 2] {
        let (n, h) = (self.normal(), self.height(*left));
        [left[0] - 2.0 * h * n[0] - right[0], left[1] - 2.0 * h * n[1] - right[1]]
    }

    /// Derivatives of the mirrored left landmark by angle and distance.
    fn derivatives(&self, left: [f64; 2]) -> [[f64; 2]; 2] {
        let (n, h) = (self.normal(), self.height(left));
        let t = [-n[1], n[0]];
        let along = t[0] * (left[0] - self.middle[0]) + t[1] * (left[1] - self.middle[1]);
        let by_angle = [-2.0 * (along * n[0] + h * t[0]), -2.0 * (along * n[1] + h * t[1])];
        [by_angle, [2.0 * n[0], 2.0 * n[1]]]
    }

    fn normal_equations(&self, placed: &[[[f64; 2]; 2]]) -> (Matrix2<f64>, Vector2<f64>) {
        let (mut matrix, mut right) = (Matrix2::zeros(), Vector2::zeros());
        for pair in placed {
            let r = self.residual(pair);
            let d = self.derivatives(pair[0]);
            for (k, residual) in r.into_iter().enumerate() {
                let row = Vector2::new(d[0][k], d[1][k]);
                matrix += row * row.transpose();
                right += row * residual;
            }
        }
        (matrix, right)
    }

    /// Covariance of angle and distance. The clicks say at least how uncertain a residual is; if the pairs scatter
    /// more than that, their scatter says so: an object is not symmetrical to a pixel.
    fn covariance(&self, placed: &[[[f64; 2]; 2]], u_click: f64) -> Result<Matrix2<f64>, MeasureError> {
        let (matrix, _) = self.normal_equations(placed);
        let squares: f64 =
            placed.iter().map(|pair| self.residual(pair)).map(|r| r[0] * r[0] + r[1] * r[1]).sum();
        let freedom = 2.0 * placed.len() as f64 - 2.0;
        // Both landmarks of a pair are clicked: their variances add in the residual.
        let variance = (2.0 * u_click * u_click).max(squares / freedom);
        let inverse = matrix.try_inverse().ok_or(MeasureError::Degenerate {
            what: "symmetry axis",
            fault: "the pairs define no axis; mark pairs that lie apart from each other",
        })?;
        Ok(inverse * variance)
    }

    /// A landmark `relief` before the plane moves away from the camera's foot by `relief/distance` of its distance
    /// from it. Both landmarks of a pair at one depth move nearly alike; what is left is taken as half of that,
    /// rectangular (JCGM 100:2008, 4.3.7).
    fn relief_u(&self, placed: &[[[f64; 2]; 2]], relief: f64, distance: f64) -> Result<f64, MeasureError> {
        for (name, found) in [("relief, mm", relief), ("distance of the camera, mm", distance)] {
            if !(found.is_finite() && found >= 0.0) || (name.starts_with("distance") && found == 0.0) {
                return Err(MeasureError::BadSetting { name, found, needed: "finite and positive" });
            }
        }
        let reach = placed.iter().flatten().map(|&p| self.height(p).abs()).fold(0.0, f64::max);
        Ok(relief / distance * reach / 3_f64.sqrt())
    }

    fn summary(
        &self,
        pairs: &[Pair],
        placed: &[[[f64; 2]; 2]],
        covariance: Matrix2<f64>,
        u_click: f64,
        relief_u: f64,
        rectified: bool,
    ) -> LandmarkSymmetry {
        let n = self.normal();
        // The axis runs across its normal; y is down on the picture, angles are counter-clockwise as seen.
        let axis_deg = (90.0 - self.normal_rad.to_degrees()).rem_euclid(180.0);
        let axis_point = [self.middle[0] + self.distance * n[0], self.middle[1] + self.distance * n[1]];
        let mut deviations = Vec::new();
        for (pair, place) in pairs.iter().zip(placed) {
            let r = self.residual(place);
            let value = r[0].hypot(r[1]);
            let [by_angle, by_distance] = self.derivatives(place[0]);
            let unit = if value > 0.0 { [r[0] / value, r[1] / value] } else { n };
            let along = |by: [f64; 2]| unit[0] * by[0] + unit[1] * by[1];
            let slope = Vector2::new(along(by_angle), along(by_distance));
            let axis_part = (slope.transpose() * covariance * slope)[(0, 0)];
            let u = (2.0 * u_click * u_click + axis_part + relief_u * relief_u).sqrt();
            deviations.push((pair.name.clone(), Measured { value, u }));
        }
        let mut sorted: Vec<f64> = deviations.iter().map(|d| d.1.value).collect();
        sorted.sort_by(f64::total_cmp);
        let quantile =
            |share: f64| sorted[((share * sorted.len() as f64).ceil() as usize).clamp(1, sorted.len()) - 1];
        let heights = placed.iter().flatten().map(|&p| self.height(p));
        let width = heights.clone().fold(f64::NEG_INFINITY, f64::max) - heights.fold(f64::INFINITY, f64::min);
        LandmarkSymmetry {
            axis_deg: Measured { value: axis_deg, u: covariance[(0, 0)].sqrt().to_degrees() },
            axis_point,
            axis_u: covariance[(1, 1)].sqrt().hypot(relief_u / 2.0),
            median: quantile(0.5),
            p95: quantile(0.95),
            deviations,
            width,
            relief_u,
            rectified,
            unit: if rectified { "mm" } else { "px" },
        }
    }
}

impl Rows for LandmarkSymmetry {
    fn rows(&self) -> Vec<Row> {
        let mut rows = vec![
            Row::new("Direction of the symmetry axis", self.axis_deg, "°"),
            Row::plain("Deviation from symmetry, median", self.median, self.unit),
            Row::plain(
                "Deviation from symmetry, median, share of the width",
                100.0 * self.median / self.width,
                "%",
            ),
            Row::plain("Deviation from symmetry, 95 % of the pairs below", self.p95, self.unit),
            Row::plain("Width between the outermost landmarks", self.width, self.unit),
        ];
        rows.extend(
            self.deviations
                .iter()
                .map(|(name, deviation)| Row::new(format!("Deviation, {name}"), *deviation, self.unit)),
        );
        rows
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if !self.rectified {
            notes.push(
                "Perspective is not corrected: a camera off the middle line looks like asymmetry. Four corners of a known rectangle in the plane of the landmarks correct it."
                    .to_owned(),
            );
        } else if self.relief_u > 0.0 {
            notes.push(format!(
                "Relief leaves {:.2} mm of standard uncertainty in each deviation, included above.",
                self.relief_u
            ));
        } else {
            notes.push(
                "The rectangle corrects perspective in its own plane only; landmarks before or behind it are displaced. State the relief and the camera's distance to have this included."
                    .to_owned(),
            );
        }
        notes
            .push("One photograph cannot tell a turned object from an asymmetrical one in depth.".to_owned());
        notes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};
    use rand_pcg::Pcg64;

    const OPTIONS: LandmarkOptions = LandmarkOptions { u_click_px: 0.5, relief_and_distance_mm: None };

    /// Pairs about the axis through (200, 150) mm, its direction 80° counter-clockwise as seen.
    fn pairs_mm() -> Vec<[[f64; 2]; 2]> {
        let axis = (80_f64.to_radians().cos(), -80_f64.to_radians().sin());
        let normal = (-axis.1, axis.0);
        [(0.0, 40.0), (30.0, 70.0), (-60.0, 55.0), (80.0, 20.0), (-20.0, 90.0), (-90.0, 0.0)]
            .map(|(along, out): (f64, f64)| {
                let foot = [200.0 + along * axis.0, 150.0 + along * axis.1];
                [-out, out].map(|out| [foot[0] + out * normal.0, foot[1] + out * normal.1])
            })
            .to_vec()
    }

    fn named(points: &[[[f64; 2]; 2]]) -> Vec<Pair> {
        let pair = |(k, [left_px, right_px]): (usize, &[[f64; 2]; 2])| Pair {
            name: format!("pair {k}"),
            left_px: *left_px,
            right_px: *right_px,
        };
        points.iter().enumerate().map(pair).collect()
    }

    /// An oblique camera: pixel = projective map of a plane in mm.
    fn photograph([x, y]: [f64; 2]) -> [f64; 2] {
        let w = 1.0 + 4e-4 * x + 2e-4 * y;
        [(3.0 * x + 0.2 * y + 100.0) / w, (0.1 * x + 2.8 * y + 50.0) / w]
    }

    #[test]
    fn a_rectangle_takes_the_perspective_out() {
        let rectangle = Rectification {
            size_mm: [400.0, 300.0],
            corners_px: [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]].map(photograph),
        };
        let seen: Vec<_> = pairs_mm().iter().map(|pair| pair.map(photograph)).collect();
        let found = landmark_symmetry(&named(&seen), Some(&rectangle), &OPTIONS).unwrap();
        assert!((found.axis_deg.value - 80.0).abs() < 1e-9, "{:?}", found.axis_deg);
        assert!(found.p95 < 1e-9, "{}", found.p95);
        assert!((found.width - 180.0).abs() < 1e-9);
        let raw = landmark_symmetry(&named(&seen), None, &OPTIONS).unwrap();
        assert!(raw.p95 > 5.0, "without it the camera looks like asymmetry: {}", raw.p95);
    }

    /// (found − true)/u over noisy clicks has mean 0 and sd 1 (the law of propagation checked by simulation).
    #[test]
    fn the_uncertainty_of_the_axis_is_true() {
        let mut random = Pcg64::seed_from_u64(11);
        let noise = Normal::new(0.0, 0.5).unwrap();
        let mut scores = Vec::new();
        for _ in 0..400 {
            let noisy: Vec<_> = pairs_mm()
                .iter()
                .map(|pair| pair.map(|p| p.map(|c| c + noise.sample(&mut random))))
                .collect();
            let found = landmark_symmetry(&named(&noisy), None, &OPTIONS).unwrap();
            scores.push((found.axis_deg.value - 80.0) / found.axis_deg.u);
        }
        let mean = scores.iter().sum::<f64>() / 400.0;
        let sd = (scores.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / 399.0).sqrt();
        assert!(mean.abs() < 0.15 && (0.8..1.25).contains(&sd), "mean {mean}, sd {sd}");
    }

    #[test]
    fn corners_out_of_order_and_lone_pairs_are_refused() {
        let rectangle = Rectification {
            size_mm: [1.0, 1.0],
            corners_px: [[0.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 0.0]],
        };
        assert!(rectification(&rectangle).unwrap_err().to_string().contains("go round once"));
        let alone = named(&pairs_mm()[..1]);
        assert!(landmark_symmetry(&alone, None, &OPTIONS).is_err());
        let same = vec![alone[0].clone(), alone[0].clone()];
        assert!(landmark_symmetry(&same, None, &OPTIONS).is_ok());
        let on_axis = Pair { name: "tip".into(), left_px: [1.0, 2.0], right_px: [1.0, 2.0] };
        assert!(landmark_symmetry(&[on_axis.clone(), on_axis], None, &OPTIONS).is_err());
    }
}
