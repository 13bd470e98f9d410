//! Areal texture: parameters of analytic surfaces, their uncertainties on random ones, and what a large map costs.

use std::f64::consts::TAU;

use form::texture::{
    ALPHA, Texture, TextureOptions, gaussian_kernel, gaussian_split, height_parameters, hybrid_parameters,
    texture,
};
use form::{HeightMap, MeasureError};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use super::{normal, peak_gb, row, spent};

/// Analytic surfaces, and all parameters of 4096 × 4096 heights.
pub fn bars() -> Result<(), MeasureError> {
    let wave = |ak: f64| {
        let z = (0..400 * 400).map(|i| ak * (TAU * f64::from(i % 400) / 400.0).sin()).collect();
        HeightMap::new(400, 400, TAU / 400.0, TAU / 400.0, z)
    };
    let mut worst: f64 = 0.0;
    for (ak, expected) in [(0.1, 0.249533), (0.5, 5.983938), (1.0, 21.600672), (2.0, 67.760997)] {
        worst = worst.max((hybrid_parameters(&wave(ak)?)?.sdr_percent - expected).abs());
    }
    row("Sdr of sinusoids", "six printed decimals", &format!("off by {worst:.1e}"), worst < 5.1e-7);
    let heights = height_parameters(&wave(1.0)?)?;
    let off = (heights.sq_um - 0.5_f64.sqrt()).abs().max((heights.sku - 1.5).abs());
    row("Sq, Sku of a sinusoid", "printed digits", &format!("off by {off:.1e}"), off < 1e-9);
    let mut random = Pcg64::seed_from_u64(4);
    let side = 4096;
    let mut z: Vec<f64> = (0..side * side)
        .map(|i| {
            let (x, y) = (f64::from(i % side), f64::from(i / side));
            (x * 0.31 + y * 0.17).sin() + 0.001 * x + 0.3 * (random.random::<f64>() - 0.5)
        })
        .collect();
    let options =
        TextureOptions { s_filter_um: Some(5.0), l_filter_um: Some(800.0), ..TextureOptions::default() };
    for holes in ["complete", "1 % not measured"] {
        if holes != "complete" {
            z.iter_mut().step_by(101).for_each(|z| *z = f64::NAN);
        }
        let map = HeightMap::new(side as usize, side as usize, 1.0, 1.0, z.clone())?;
        let cost = spent(|| texture(&map, &options).map(|_| ()))?;
        let found = format!("{cost}, peak {:.2} GB", peak_gb());
        row(
            &format!("4096 × 4096, both filters, all parameters, {holes}"),
            "< 5 s",
            &found,
            cost.own() < 5.0,
        );
    }
    Ok(())
}

/// A random surface with the Gaussian autocorrelation exp(−(r/b)²): white noise under the Gaussian filter, without the
/// margin that the edges reach; of root mean square 1.
fn random_surface(side: usize, cutoff: f64, dy: f64, random: &mut Pcg64) -> Result<HeightMap, MeasureError> {
    let margin = cutoff.ceil() as usize;
    let whole = side + 2 * margin;
    let noise = (0..whole * whole).map(|_| normal(random)).collect();
    let (smooth, _) = gaussian_split(&HeightMap::new(whole, whole, 1.0, 1.0, noise)?, cutoff)?;
    let kernel = gaussian_kernel(cutoff);
    let rms = 2.0 * kernel.iter().map(|w| w * w).sum::<f64>() - kernel[0] * kernel[0];
    let rows = (margin..margin + side).flat_map(|y| smooth.row(y)[margin..margin + side].to_vec());
    HeightMap::new(side, side, 1.0, dy, rows.map(|z| z / rms).collect())
}

/// A parameter of a texture, its truth, and its value and uncertainty on each surface.
type Parameter = (&'static str, f64, fn(&Texture) -> (Option<f64>, Option<f64>));

/// Whether the uncertainties of the parameters are true: (estimate − truth)/u over many fields of surfaces with known
/// parameters.
pub fn uncertainty_bars() -> Result<(), MeasureError> {
    const FIELDS: usize = 150;
    let b = |cutoff: f64| ALPHA * cutoff * (2.0 / std::f64::consts::PI).sqrt();
    let cutoff = 16.0;
    let sal = b(cutoff) * 5_f64.ln().sqrt();
    let slope = |dy: f64| (2.0 * (1.0 + 1.0 / (dy * dy))).sqrt() / b(cutoff);
    let parameters: [Parameter; 6] = [
        ("Sa", (2.0 / std::f64::consts::PI).sqrt(), |t| (Some(t.heights.sa_um), t.u.sa_um)),
        ("Sq", 1.0, |t| (Some(t.heights.sq_um), t.u.sq_um)),
        ("Ssk", 0.0, |t| (Some(t.heights.ssk), t.u.ssk)),
        ("Sku", 3.0, |t| (Some(t.heights.sku), t.u.sku)),
        ("Sal", sal, |t| (t.sal_um, t.u.sal_um)),
        ("Str", f64::NAN, |t| (t.str_ratio, t.u.str_ratio)),
    ];
    let options = TextureOptions { form: form::texture::Form::Mean, ..TextureOptions::default() };
    for (name, dy) in [("isotropic", 1.0), ("twice as long in y", 2.0)] {
        let mut random = Pcg64::seed_from_u64(11);
        let textures: Vec<Texture> = (0..FIELDS)
            .map(|_| texture(&random_surface(400, cutoff, dy, &mut random)?, &options))
            .collect::<Result<_, _>>()?;
        let with_slope = parameters
            .into_iter()
            .map(|(name, truth, of)| (name, if name == "Str" { 1.0 / dy } else { truth }, of));
        let slope_parameter: Parameter = ("Sdq", slope(dy), |t| (Some(t.hybrid.sdq), t.u.sdq));
        for (parameter, truth, of) in with_slope.chain([slope_parameter]) {
            let scores: Vec<f64> = textures
                .iter()
                .filter_map(|t| match of(t) {
                    (Some(value), Some(u)) => Some((value - truth) / u),
                    _ => None,
                })
                .collect();
            report(&format!("{parameter}, {name}, {} pieces", textures[0].u.pieces), &scores);
        }
    }
    Ok(())
}

fn report(what: &str, scores: &[f64]) {
    let count = scores.len() as f64;
    let mean = scores.iter().sum::<f64>() / count;
    let spread = (scores.iter().map(|z| z * z).sum::<f64>() / count).sqrt();
    let inside = scores.iter().filter(|z| z.abs() < 1.96).count() as f64 / count;
    row(
        &format!("uncertainty of {what}"),
        "root mean square z 0.8–1.25",
        &format!(
            "mean z {mean:+.2}, root mean square {spread:.2}, {:.0} % within 95 % of {count} fields",
            100.0 * inside
        ),
        (0.8..1.25).contains(&spread),
    );
}
