//! What a picture file says about itself, and the limits it is read under.

use std::fmt;

use crate::Grey;

/// File formats that are read. Told by content, never by the name's ending.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// ISO/IEC 10918-1.
    Jpeg,
    /// ISO/IEC 15948.
    Png,
    /// TIFF 6.0, or its 64-bit sister.
    Tiff,
    /// RIFF container, lossy or lossless.
    WebP,
    /// Windows bitmap.
    Bmp,
    /// First frame only.
    Gif,
}

impl Format {
    /// The format's usual name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Jpeg => "JPEG",
            Self::Png => "PNG",
            Self::Tiff => "TIFF",
            Self::WebP => "WebP",
            Self::Bmp => "BMP",
            Self::Gif => "GIF",
        }
    }
}

impl fmt::Display for Format {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// How the file's numbers were taken to the sRGB-encoded scale.
#[derive(Debug, Clone, PartialEq)]
pub enum ColourNote {
    /// The file says nothing: sRGB assumed.
    Assumed,
    /// The file says sRGB.
    Srgb,
    /// Converted by the ICC profile of this name.
    Profile(String),
    /// Converted from a power law; the exponent the file was encoded with (1 is linear light).
    Gamma(f64),
    /// Ink amounts without a usable profile: converted by the plain formula, colours approximate.
    Inks,
    /// Floating-point values, taken as they are or stretched to 0–1 (see the notes).
    Float,
}

impl fmt::Display for ColourNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Assumed => f.write_str("sRGB assumed"),
            Self::Srgb => f.write_str("sRGB as stated"),
            Self::Profile(name) => write!(f, "converted by the profile '{name}'"),
            Self::Gamma(gamma) if (gamma - 1.0).abs() < 1e-3 => f.write_str("converted from linear light"),
            Self::Gamma(gamma) => write!(f, "converted from a power law with exponent {gamma:.4}"),
            Self::Inks => f.write_str("inks converted without a profile"),
            Self::Float => f.write_str("floating-point values"),
        }
    }
}

/// What is known of a decoded picture besides its pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    /// Format, told by content.
    pub format: Format,
    /// Width in pixels after the orientation tag was applied.
    pub width_px: usize,
    /// Height in pixels after the orientation tag was applied.
    pub height_px: usize,
    /// Bits per sample in the file.
    pub bits: u32,
    /// Samples per pixel in the file.
    pub channels: u32,
    /// How the numbers became sRGB-encoded ones.
    pub colour: ColourNote,
    /// Orientation tag as found (1 upright, 1–8) and applied once.
    pub orientation_applied: u8,
    /// When the picture was taken, as the file says.
    pub taken_at: Option<String>,
    /// Maker and model of the camera, as the file says.
    pub camera: Option<String>,
    /// All readable EXIF fields, name and value as text, in file order.
    pub exif: Vec<(String, String)>,
    /// Pages or frames in the file; only the first is read.
    pub pages: u32,
    /// What the reader should know, in plain words.
    pub notes: Vec<String>,
}

impl Facts {
    /// Facts of a plane that was computed and never compressed: a height map as grey values.
    #[must_use]
    pub fn of_computed(grey: &Grey) -> Self {
        Self {
            format: Format::Tiff,
            width_px: grey.width(),
            height_px: grey.height(),
            bits: 32,
            channels: 1,
            colour: ColourNote::Float,
            orientation_applied: 1,
            taken_at: None,
            camera: None,
            exif: Vec::new(),
            pages: 1,
            notes: Vec::new(),
        }
    }
}

/// A decoded picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The plane everything is measured on.
    pub grey: Grey,
    /// What the file says about itself.
    pub facts: Facts,
}

/// Limits under which files are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most pixels, checked on the header before memory is taken.
    pub max_pixels: u64,
    /// Most memory in bytes that one decoding may take in all, the file's own bytes included.
    pub max_memory: u64,
}

impl Default for Limits {
    /// 110 million pixels (cameras sold as '100 megapixel' give up to 102 million) and 1.9 GB, so that a 2 GB bound holds with the program itself.
    fn default() -> Self {
        Self { max_pixels: 110_000_000, max_memory: 1_900_000_000 }
    }
}
