//! The unit a file's numbers are in. Files that do not state it must be asked about; nothing here guesses.

use std::fmt;

/// A unit of length of the numbers in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthUnit {
    /// Metres.
    Metre,
    /// Centimetres.
    Centimetre,
    /// Millimetres.
    Millimetre,
    /// Micrometres.
    Micrometre,
    /// Nanometres.
    Nanometre,
    /// International inches of 25.4 mm exactly.
    Inch,
}

impl LengthUnit {
    /// The unit from its usual sign (`m`, `cm`, `mm`, `um` or `µm`, `nm`, `in`); `None` for anything else.
    #[must_use]
    pub fn from_sign(sign: &str) -> Option<Self> {
        match sign.trim() {
            "m" => Some(Self::Metre),
            "cm" => Some(Self::Centimetre),
            "mm" => Some(Self::Millimetre),
            "um" | "µm" | "μm" => Some(Self::Micrometre),
            "nm" => Some(Self::Nanometre),
            "in" => Some(Self::Inch),
            _ => None,
        }
    }

    /// Millimetres in one of this unit.
    #[must_use]
    pub fn in_mm(self) -> f64 {
        match self {
            Self::Metre => 1000.0,
            Self::Centimetre => 10.0,
            Self::Millimetre => 1.0,
            Self::Micrometre => 1e-3,
            Self::Nanometre => 1e-6,
            Self::Inch => 25.4,
        }
    }

    /// Micrometres in one of this unit.
    #[must_use]
    pub fn in_um(self) -> f64 {
        self.in_mm() * 1000.0
    }
}

impl fmt::Display for LengthUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Metre => "m",
            Self::Centimetre => "cm",
            Self::Millimetre => "mm",
            Self::Micrometre => "µm",
            Self::Nanometre => "nm",
            Self::Inch => "in",
        })
    }
}
