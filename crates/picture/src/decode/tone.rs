//! From a file's numbers to the sRGB-encoded scale: transfer curves and ICC profiles.

use std::sync::Arc;

use moxcms::{ColorProfile, DataColorSpace, Layout, ProfileText, TransformExecutor, TransformOptions};

use crate::facts::ColourNote;

/// Conversion of rows of values on the 0–1 scale.
#[derive(Clone)]
pub(crate) enum Tone {
    /// Already sRGB-encoded.
    Plain,
    /// One curve for every channel, sampled evenly over 0–1.
    Curve(Arc<Vec<f32>>),
    /// A colour transform of three channels.
    Colour(Arc<dyn TransformExecutor<f32> + Send + Sync>),
}

/// Entries of a sampled curve: one per 16-bit code, so that 16-bit pictures lose nothing.
const CURVE_LEN: usize = 1 << 16;
/// A profile that moves no test colour by more than this is taken as sRGB itself: half a step of 8 bits.
const SAME_AS_SRGB: f32 = 0.5 / 255.0;
/// PNG files state 1/2.2 for sRGB-encoded data (ISO/IEC 15948, gAMA 45455); within this of it no curve is applied.
const GAMMA_OF_SRGB: f64 = 0.45455;
const GAMMA_TOLERANCE: f64 = 0.005;

impl Tone {
    /// Converts a row of interleaved values, one or three channels, in place.
    pub(crate) fn apply(&self, row: &mut [f32]) {
        match self {
            Self::Plain => {}
            Self::Curve(curve) => row.iter_mut().for_each(|value| *value = sample(curve, *value)),
            Self::Colour(transform) => {
                let source = row.to_vec();
                if transform.transform(&source, row).is_err() {
                    row.copy_from_slice(&source);
                }
            }
        }
    }

    /// Whether rows pass unchanged.
    pub(crate) fn is_plain(&self) -> bool {
        matches!(self, Self::Plain)
    }
}

fn sample(curve: &[f32], value: f32) -> f32 {
    let position = value.clamp(0.0, 1.0) * (curve.len() - 1) as f32;
    let index = position as usize;
    let (Some(&low), high) = (curve.get(index), curve.get(index + 1)) else { return value };
    high.map_or(low, |high| low + (high - low) * (position - index as f32))
}

/// The sRGB transfer curve from linear light (IEC 61966-2-1).
pub(crate) fn srgb_encode(linear: f64) -> f64 {
    if linear <= 0.003_130_8 { 12.92 * linear } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

/// Tone of a file encoded as `linear^gamma` (PNG's gAMA).
pub(crate) fn from_gamma(gamma: f64) -> (Tone, ColourNote) {
    if !(gamma.is_finite() && gamma > 0.0) || (gamma - GAMMA_OF_SRGB).abs() < GAMMA_TOLERANCE {
        return (Tone::Plain, ColourNote::Srgb);
    }
    let curve = (0..CURVE_LEN)
        .map(|i| srgb_encode((i as f64 / (CURVE_LEN - 1) as f64).powf(1.0 / gamma)) as f32)
        .collect();
    (Tone::Curve(Arc::new(curve)), ColourNote::Gamma(gamma))
}

/// Tone of an embedded profile for pictures of one or three channels; the note says if it could not be used.
pub(crate) fn from_icc(icc: &[u8], coloured: bool) -> (Tone, ColourNote, Option<String>) {
    let unusable = |why: &str| {
        (Tone::Plain, ColourNote::Assumed, Some(format!("the colour profile {why}: sRGB assumed")))
    };
    let Ok(profile) = ColorProfile::new_from_slice(icc) else {
        return unusable("cannot be read");
    };
    let name = profile.description.as_ref().map_or_else(|| "unnamed".to_owned(), text_of);
    let tone = match (profile.color_space, coloured) {
        (DataColorSpace::Rgb, true) => colour_tone(&profile),
        (DataColorSpace::Gray, false) => grey_tone(&profile),
        // A grey picture with an RGB profile: the curve along the grey axis is the same for all channels.
        (DataColorSpace::Rgb, false) => grey_axis_tone(&profile),
        _ => return unusable(&format!("'{name}' is for another kind of picture")),
    };
    match tone {
        Some(Tone::Plain) => (Tone::Plain, ColourNote::Srgb, None),
        Some(tone) => (tone, ColourNote::Profile(name), None),
        None => unusable(&format!("'{name}' is of a kind that is not supported")),
    }
}

fn text_of(text: &ProfileText) -> String {
    match text {
        ProfileText::PlainString(text) => text.clone(),
        ProfileText::Localizable(all) => all.first().map(|one| one.value.clone()).unwrap_or_default(),
        ProfileText::Description(text) => text.ascii_string.clone(),
    }
}

fn transform(
    profile: &ColorProfile,
    source: Layout,
) -> Option<Arc<dyn TransformExecutor<f32> + Send + Sync>> {
    profile
        .create_transform_f32(source, &ColorProfile::new_srgb(), Layout::Rgb, TransformOptions::default())
        .ok()
}

fn colour_tone(profile: &ColorProfile) -> Option<Tone> {
    let transform = transform(profile, Layout::Rgb)?;
    let level = |i: usize| i as f32 / 8.0;
    let colours: Vec<f32> = (0..729).flat_map(|i| [level(i / 81), level(i / 9 % 9), level(i % 9)]).collect();
    let mut moved = vec![0.0; colours.len()];
    transform.transform(&colours, &mut moved).ok()?;
    let same = colours.iter().zip(&moved).all(|(a, b)| (a - b).abs() <= SAME_AS_SRGB);
    Some(if same { Tone::Plain } else { Tone::Colour(transform) })
}

fn grey_tone(profile: &ColorProfile) -> Option<Tone> {
    let ramp = ramp();
    let mut rgb = vec![0.0; 3 * CURVE_LEN];
    transform(profile, Layout::Gray)?.transform(&ramp, &mut rgb).ok()?;
    Some(curve_tone(&ramp, &rgb))
}

fn grey_axis_tone(profile: &ColorProfile) -> Option<Tone> {
    let ramp = ramp();
    let source: Vec<f32> = ramp.iter().flat_map(|&v| [v; 3]).collect();
    let mut rgb = vec![0.0; 3 * CURVE_LEN];
    transform(profile, Layout::Rgb)?.transform(&source, &mut rgb).ok()?;
    Some(curve_tone(&ramp, &rgb))
}

fn ramp() -> Vec<f32> {
    (0..CURVE_LEN).map(|i| i as f32 / (CURVE_LEN - 1) as f32).collect()
}

fn curve_tone(ramp: &[f32], rgb: &[f32]) -> Tone {
    let curve: Vec<f32> = rgb.chunks_exact(3).map(|pixel| luma(pixel).clamp(0.0, 1.0)).collect();
    let same = ramp.iter().zip(&curve).all(|(a, b)| (a - b).abs() <= SAME_AS_SRGB);
    if same { Tone::Plain } else { Tone::Curve(Arc::new(curve)) }
}

/// Grey value of an encoded colour: the luma of ITU-R BT.601, which is also what JPEG files store, so that one picture gives
/// the same grey in every format. Equal channels give exactly that value.
pub(crate) fn luma(pixel: &[f32]) -> f32 {
    match pixel {
        [r, g, b, ..] if r == g && g == b => *g,
        [r, g, b, ..] => 0.299 * r + 0.587 * g + 0.114 * b,
        [grey, ..] => *grey,
        [] => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Linear 0.214 041 is encoded as 0.5 (IEC 61966-2-1 inverted by hand).
    #[test]
    fn linear_light_is_encoded() {
        let (tone, note) = from_gamma(1.0);
        assert_eq!(note, ColourNote::Gamma(1.0));
        let mut row = [0.0, 0.214_041_14, 1.0, 0.001];
        tone.apply(&mut row);
        for (found, wanted) in row.iter().zip([0.0, 0.5, 1.0, 0.012_92]) {
            assert!((found - wanted).abs() < 1e-5, "{found} for {wanted}");
        }
    }

    #[test]
    fn srgb_profiles_change_nothing() {
        let icc = ColorProfile::new_srgb().encode().unwrap();
        let (tone, note, problem) = from_icc(&icc, true);
        assert!(tone.is_plain() && note == ColourNote::Srgb && problem.is_none());
        let (_, note, problem) = from_icc(b"not a profile", true);
        assert!(note == ColourNote::Assumed && problem.is_some());
    }

    #[test]
    fn grey_gamma_profiles_are_applied() {
        let icc = ColorProfile::new_gray_with_gamma(1.0).encode().unwrap();
        let (tone, note, _) = from_icc(&icc, false);
        assert!(matches!(note, ColourNote::Profile(_)), "{note:?}");
        let mut row = [0.214_041_14, 1.0];
        tone.apply(&mut row);
        assert!((row[0] - 0.5).abs() < 2e-3 && (row[1] - 1.0).abs() < 2e-3, "{row:?}");
    }
}
