//! Pictures out: JPEG and PNG.

use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

use crate::rgb::to_byte;
use crate::{EncodeError, Grey, Rgb};

/// Largest side a JPEG header can state (ISO/IEC 10918-1, 16-bit fields).
const JPEG_MAX_SIDE: usize = 65_535;
/// Largest side a PNG header can state (ISO/IEC 15948, 31-bit fields).
const PNG_MAX_SIDE: usize = 0x7fff_ffff;

impl Rgb {
    /// As JPEG at a quality of 1 to 100 (clamped), chroma not subsampled so that thin coloured lines stay.
    ///
    /// # Errors
    /// [`EncodeError::Size`] above 65,535 pixels a side, [`EncodeError::Encoder`] if the encoder stops.
    pub fn to_jpeg(&self, quality: u8) -> Result<Vec<u8>, EncodeError> {
        let mut out = Vec::new();
        let too_large = || EncodeError::Size {
            width: self.width(),
            height: self.height(),
            format: "JPEG",
            limit: JPEG_MAX_SIDE,
        };
        let width = u16::try_from(self.width()).map_err(|_| too_large())?;
        let height = u16::try_from(self.height()).map_err(|_| too_large())?;
        let mut encoder = Encoder::new(&mut out, quality.clamp(1, 100));
        encoder.set_sampling_factor(SamplingFactor::R_4_4_4);
        let stopped = |error: jpeg_encoder::EncodingError| EncodeError::Encoder {
            format: "JPEG",
            detail: error.to_string(),
        };
        encoder.encode(self.values(), width, height, ColorType::Rgb).map_err(stopped)?;
        Ok(out)
    }

    /// As 8-bit RGB PNG tagged sRGB.
    ///
    /// # Errors
    /// [`EncodeError`] if the size does not fit or the encoder stops.
    pub fn to_png(&self) -> Result<Vec<u8>, EncodeError> {
        png_bytes(self.width(), self.height(), png::ColorType::Rgb, png::BitDepth::Eight, self.values())
    }
}

impl Grey {
    /// As 8-bit grey PNG tagged sRGB.
    ///
    /// # Errors
    /// [`EncodeError`] if the plane has no pixel, the size does not fit or the encoder stops.
    pub fn to_png8(&self) -> Result<Vec<u8>, EncodeError> {
        let bytes: Vec<u8> = self.values().iter().map(|&value| to_byte(value)).collect();
        png_bytes(self.width(), self.height(), png::ColorType::Grayscale, png::BitDepth::Eight, &bytes)
    }

    /// As 16-bit grey PNG tagged sRGB: values are kept to 1/65,535.
    ///
    /// # Errors
    /// As [`Grey::to_png8`].
    pub fn to_png16(&self) -> Result<Vec<u8>, EncodeError> {
        let word = |value: &f32| ((value.clamp(0.0, 1.0) * 65_535.0 + 0.5) as u16).to_be_bytes();
        let bytes: Vec<u8> = self.values().iter().flat_map(word).collect();
        png_bytes(self.width(), self.height(), png::ColorType::Grayscale, png::BitDepth::Sixteen, &bytes)
    }
}

fn png_bytes(
    width: usize,
    height: usize,
    colour: png::ColorType,
    depth: png::BitDepth,
    bytes: &[u8],
) -> Result<Vec<u8>, EncodeError> {
    let side =
        |value: usize| u32::try_from(value).ok().filter(|&side| side > 0 && side as usize <= PNG_MAX_SIDE);
    let (Some(w), Some(h)) = (side(width), side(height)) else {
        return Err(EncodeError::Size { width, height, format: "PNG", limit: PNG_MAX_SIDE });
    };
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, w, h);
    encoder.set_color(colour);
    encoder.set_depth(depth);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.set_compression(png::Compression::Fast);
    let stopped =
        |error: png::EncodingError| EncodeError::Encoder { format: "PNG", detail: error.to_string() };
    let mut writer = encoder.write_header().map_err(stopped)?;
    writer.write_image_data(bytes).map_err(stopped)?;
    writer.finish().map_err(stopped)?;
    Ok(out)
}
