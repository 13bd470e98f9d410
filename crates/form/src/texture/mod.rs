//! Areal texture: filtering, levelling and the parameters of ISO 25178-2.

mod autocorrelation;
mod direction;
mod filter;
mod heights;
mod level;
mod pieces;
mod slopes;
mod uncertainty;

use quantity::{AxialDeg, Measured};

pub use autocorrelation::{Autocorrelation, autocorrelation, sal_and_str};
pub use direction::{LayComparison, TextureDirection, compare_lay, texture_direction};
pub use filter::{ALPHA, gaussian_kernel, gaussian_split, gaussian_transmission, gaussian_weight};
pub use heights::{HeightParameters, height_parameters};
pub use level::{Form, level};
pub use slopes::{Hybrid, hybrid_parameters};
pub use uncertainty::TextureUncertainty;

use crate::row::{Row, Rows};
use crate::{HeightMap, MeasureError};
use autocorrelation::decays;
use pieces::{Pieces, whole};
use slopes::{hybrid_of, slope_sums};

/// How the scale-limited surface is made before it is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TextureOptions {
    /// Form taken out first.
    pub form: Form,
    /// Waves shorter than this are taken out (S-filter), µm; `None` keeps all.
    pub s_filter_um: Option<f64>,
    /// Waves longer than this are taken out (L-filter), µm; `None` keeps all.
    pub l_filter_um: Option<f64>,
    /// Level of the autocorrelation for Sal and Str; 0.2 by the standard's default.
    pub acf_level: f64,
    /// Standard uncertainty of one height, µm; 0 if unknown. It enters the uncertainties only.
    pub u_height_um: f64,
}

impl Default for TextureOptions {
    /// A levelled surface with every wave kept.
    fn default() -> Self {
        Self { form: Form::Plane, s_filter_um: None, l_filter_um: None, acf_level: 0.2, u_height_um: 0.0 }
    }
}

/// Areal parameters of one height map.
#[derive(Debug, Clone, PartialEq)]
pub struct Texture {
    /// Heights of the scale-limited surface.
    pub heights: HeightParameters,
    /// Slopes and developed area.
    pub hybrid: Hybrid,
    /// Shortest distance at which the autocorrelation falls to the level, µm; `None` if it does not within the field.
    pub sal_um: Option<f64>,
    /// Shortest over longest such distance, 0 (lay) to 1 (none); `None` if it does not fall in every direction.
    pub str_ratio: Option<f64>,
    /// Direction of the lay from the angular spectrum.
    pub direction: Option<TextureDirection>,
    /// Standard uncertainties of the above.
    pub u: TextureUncertainty,
    /// Share of the map's heights that were measured, 0 to 1.
    pub measured: f64,
    /// The options it was made with.
    pub options: TextureOptions,
}

/// All parameters of a height map.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below 7 × 7 heights, [`MeasureError::BadSetting`] for filters out of range,
/// [`MeasureError::Degenerate`] for a surface without any height differences.
///
/// # Source
/// ISO 25178-2:2012 4.1 to 4.3, formulas from memory, source not seen; ISO 16610-61 Gaussian filter, from memory,
/// source not seen. Checked against analytic surfaces in `tests/published/texture.json`.
pub fn texture(map: &HeightMap, options: &TextureOptions) -> Result<Texture, MeasureError> {
    let least = map.width().min(map.height());
    if least < 7 {
        return Err(MeasureError::TooFewPoints {
            what: "areal texture (heights a side)",
            found: least,
            needed: 7,
        });
    }
    if !(options.acf_level > 0.0 && options.acf_level < 1.0) {
        let found = options.acf_level;
        return Err(MeasureError::BadSetting {
            name: "level of the autocorrelation",
            found,
            needed: "between 0 and 1",
        });
    }
    let mut surface = level(map, options.form)?;
    if let Some(cutoff) = options.s_filter_um {
        surface = gaussian_split(&surface, cutoff)?.0;
    }
    if let Some(cutoff) = options.l_filter_um {
        surface = gaussian_split(&surface, cutoff)?.1;
    }
    let heights = height_parameters(&surface)?;
    // What is left of an even surface after levelling are the last digits of its heights.
    let largest = map.z_um().iter().fold(0.0, |largest: f64, z| largest.max(z.abs()));
    if heights.sq_um <= 1e-12 * largest {
        return Err(MeasureError::Degenerate {
            what: "areal texture",
            fault: "the surface has no height differences",
        });
    }
    let correlation = autocorrelation(&surface);
    let reach = correlation.reach_um();
    let step = surface.dx_um().min(surface.dy_um());
    let (shortest, longest) = decays(|x, y| correlation.at_um(x, y), reach, options.acf_level, step);
    let pieces = shortest.and_then(|shortest| Pieces::independent(&surface, shortest, longest));
    let slopes = slope_sums(&surface, pieces.as_ref().unwrap_or(&Pieces::whole()));
    let hybrid = hybrid_of(&whole(&slopes)).ok_or(MeasureError::TooFewPoints {
        what: "slopes",
        found: 0,
        needed: 1,
    })?;
    let u = uncertainty::Measured {
        map: &surface,
        heights: &heights,
        hybrid: &hybrid,
        slopes: &slopes,
        pieces: pieces.as_ref(),
        shortest,
        longest,
        options,
    }
    .uncertainty();
    let sal_um = shortest.map(|decay| decay.length_um);
    let str_ratio = sal_um.zip(longest).map(|(short, long)| short / long.length_um);
    let direction = texture_direction(&surface);
    let measured = map.measured() as f64 / map.z_um().len() as f64;
    Ok(Texture { heights, hybrid, sal_um, str_ratio, direction, u, measured, options: *options })
}

impl Texture {
    /// Lay direction of the angular spectrum, as an axis of the picture.
    #[must_use]
    pub fn lay(&self) -> Option<AxialDeg> {
        self.direction.as_ref().map(|direction| direction.lay)
    }
}

impl Rows for Texture {
    fn rows(&self) -> Vec<Row> {
        let (h, u) = (&self.heights, &self.u);
        let row = |label: &str, value: f64, u: Option<f64>, unit: &'static str| {
            Row::new(label, Measured { value, u: u.unwrap_or(0.0) }, unit)
        };
        let mut rows = vec![
            row("Sa, mean absolute height", h.sa_um, u.sa_um, "µm"),
            row("Sq, root mean square height", h.sq_um, u.sq_um, "µm"),
            row("Ssk, skewness", h.ssk, u.ssk, ""),
            row("Sku, kurtosis", h.sku, u.sku, ""),
            row("Sp, highest above the mean", h.sp_um, u.peak_um, "µm"),
            row("Sv, deepest below the mean", h.sv_um, u.peak_um, "µm"),
            row("Sz, greatest height", h.sz_um, u.sz_um, "µm"),
            row("Sdq, root mean square slope", self.hybrid.sdq, u.sdq, ""),
            row("Sdr, developed area beyond the plan", self.hybrid.sdr_percent, u.sdr_percent, "%"),
        ];
        rows.extend(self.sal_um.map(|sal| row("Sal, shortest correlation length", sal, u.sal_um, "µm")));
        rows.extend(self.str_ratio.map(|ratio| row("Str, texture aspect ratio", ratio, u.str_ratio, "")));
        if let Some(direction) = &self.direction {
            rows.push(Row::new("Std, direction of the lay from the spectrum", direction.lay_measured(), "°"));
            rows.push(Row::plain("share of the angular spectrum in one direction", direction.resultant, ""));
        }
        rows
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = vec![
            "Std is given as the direction the marks run in, counter-clockwise from the row direction; the wave vector of the spectrum is at right angles to it."
                .to_owned(),
        ];
        if self.sal_um.is_none() || self.str_ratio.is_none() {
            notes.push(
                "The autocorrelation does not fall to its level in every direction within a quarter of the field: the field is too small for Str."
                    .to_owned(),
            );
        }
        notes.extend(self.u.notes());
        if self.measured < 1.0 {
            notes.push(format!("{:.1} % of the heights were not measured.", 100.0 * (1.0 - self.measured)));
        }
        notes
    }
}
