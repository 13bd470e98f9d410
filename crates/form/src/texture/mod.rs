//! Areal texture: filtering, levelling and the parameters of ISO 25178-2.

mod autocorrelation;
mod direction;
mod filter;
mod heights;
mod level;
mod slopes;

use quantity::AxialDeg;

pub use autocorrelation::{Autocorrelation, autocorrelation, sal_and_str};
pub use direction::{LayComparison, TextureDirection, compare_lay, texture_direction};
pub use filter::{ALPHA, gaussian_kernel, gaussian_split, gaussian_transmission, gaussian_weight};
pub use heights::{HeightParameters, height_parameters};
pub use level::{Form, level};
pub use slopes::{Hybrid, hybrid_parameters};

use crate::row::{Row, Rows};
use crate::{HeightMap, MeasureError};

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
}

impl Default for TextureOptions {
    /// A levelled surface with every wave kept.
    fn default() -> Self {
        Self { form: Form::Plane, s_filter_um: None, l_filter_um: None, acf_level: 0.2 }
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
    if heights.sq_um <= 0.0 {
        return Err(MeasureError::Degenerate {
            what: "areal texture",
            fault: "the surface has no height differences",
        });
    }
    let hybrid = hybrid_parameters(&surface)?;
    let correlation = autocorrelation(&surface);
    let reach = correlation.reach_um();
    let (sal_um, str_ratio) =
        sal_and_str(|x, y| correlation.at_um(x, y), reach, options.acf_level, surface.dx_um());
    let direction = texture_direction(&surface);
    let measured = map.measured() as f64 / map.z_um().len() as f64;
    Ok(Texture { heights, hybrid, sal_um, str_ratio, direction, measured, options: *options })
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
        let h = &self.heights;
        let mut rows = vec![
            Row::plain("Sa, mean height", h.sa_um, "µm"),
            Row::plain("Sq, root mean square height", h.sq_um, "µm"),
            Row::plain("Ssk, skewness", h.ssk, ""),
            Row::plain("Sku, kurtosis", h.sku, ""),
            Row::plain("Sp, highest peak", h.sp_um, "µm"),
            Row::plain("Sv, deepest pit", h.sv_um, "µm"),
            Row::plain("Sz, peak to pit", h.sz_um, "µm"),
            Row::plain("Sdq, root mean square slope", self.hybrid.sdq, ""),
            Row::plain("Sdr, developed area", self.hybrid.sdr_percent, "%"),
        ];
        rows.extend(self.sal_um.map(|sal| Row::plain("Sal, autocorrelation length", sal, "µm")));
        rows.extend(self.str_ratio.map(|ratio| Row::plain("Str, texture aspect ratio", ratio, "")));
        if let Some(direction) = &self.direction {
            rows.push(Row::new("Std, direction of the lay", direction.lay_measured(), "°"));
            rows.push(Row::plain("Share of the angular spectrum in one direction", direction.resultant, ""));
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
        if self.measured < 1.0 {
            notes.push(format!("{:.1} % of the heights were not measured.", 100.0 * (1.0 - self.measured)));
        }
        notes
    }
}
