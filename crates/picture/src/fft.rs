//! Fourier transforms, in one precision and without processor-specific arithmetic: the same digits on every machine.
//!
//! The library is generic, so whoever calls it compiles it: its vectorised plans in two precisions took this crate more
//! than a minute to build. The transforms here are small beside decoding.

use std::sync::Arc;

use rustfft::{Fft, FftPlannerScalar};

pub(crate) use rustfft::num_complex::Complex64;

/// The forward transform of this length, not scaled.
pub(crate) fn forward(length: usize) -> Arc<dyn Fft<f64>> {
    FftPlannerScalar::new().plan_fft_forward(length)
}
