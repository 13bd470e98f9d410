//! Every published or independently computed case of form and texture, to its stated tolerance. The tables lie in the
//! workspace's `tests/published/`, each case with its source, page, status and reader.

#![allow(clippy::unwrap_used, reason = "a broken table must stop the test")]

use form::texture::{
    ALPHA, Form, TextureOptions, gaussian_kernel, gaussian_transmission, gaussian_weight, height_parameters,
    hybrid_parameters, level, sal_and_str, texture,
};
use form::{
    HeightMap, chebyshev_plane, flatness, orthogonal_plane, profile_parameters, vertical_plane, zone,
};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rustfft::FftPlanner;
use rustfft::num_complex::Complex;
use serde_json::Value;

fn table(name: &str) -> Vec<Value> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/published").join(name);
    let table: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    table["cases"].as_array().unwrap().clone()
}

fn case(table: &str, id: &str) -> Value {
    self::table(table).into_iter().find(|case| case["id"] == id).unwrap_or_else(|| panic!("no case {id}"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is not a number"))
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

/// Within the relative tolerance, or within it of 1 where zero is expected.
fn assert_near(found: f64, expected: f64, tolerance: f64, what: &str) {
    let scale = if expected.abs() < 1e-12 { 1.0 } else { expected.abs() };
    assert!((found - expected).abs() <= tolerance * scale, "{what}: {found} instead of {expected}");
}

/// ISO 12781-1: least squares along the normal and vertically, and the minimum zone against exhaustive contacts and
/// linear programming.
#[test]
fn flatness_cases() {
    let cases = table("flatness.json");
    assert_eq!(cases.len(), 5);
    for case in cases {
        let name = case["id"].as_str().unwrap();
        let points: Vec<[f64; 3]> = case["inputs"]["points"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| numbers(p).try_into().unwrap())
            .collect();
        let expected = |key: &str| number(&case["expected"][key]);
        let tolerance = number(&case["tol"]);
        let check =
            |found: f64, key: &str| assert_near(found, expected(key), tolerance, &format!("{name} {key}"));

        let found = flatness(&points, 0.0, "mm").unwrap();
        check(found.least_squares.total, "FLTt_tls");
        check(found.least_squares.rms, "FLTq_tls");
        check(found.minimum_zone.zone.total, "mz_exact");
        assert!(found.total_mz.value <= found.total_ls.value * (1.0 + 1e-12), "{name}");
        assert_eq!(orthogonal_plane(&points).unwrap(), found.least_squares.plane);

        let vertical = vertical_plane(&points).unwrap();
        let departures = zone(&points, &vertical);
        let upright = vertical.normal[2];
        check(departures.total, "FLTt_ls_normal");
        check(departures.total / upright, "FLTt_ls_vertical");
        check(departures.peak / upright, "FLTp_ls");
        check(departures.valley / upright, "FLTv_ls");
        check(departures.rms / upright, "FLTq_ls");
        let coefficients = numbers(&case["expected"]["ls_coef"]);
        assert_near(-vertical.normal[0] / upright, coefficients[0], 1e-9, name);
        assert_near(-vertical.normal[1] / upright, coefficients[1], 1e-9, name);
        assert_near(vertical.offset / upright, coefficients[2], 1e-9, name);
        check(2.0 * chebyshev_plane(&points).unwrap().1, "mz_lp_vertical");
    }
}

fn square_grid(side: usize, step: f64, z: impl Fn(f64, f64) -> f64) -> HeightMap {
    let heights = (0..side * side).map(|i| z((i % side) as f64 * step, (i / side) as f64 * step)).collect();
    HeightMap::new(side, side, step, step, heights).unwrap()
}

/// Checks the named height parameters of a map against an object of expected values.
fn check_heights(map: &HeightMap, expected: &Value, tolerance: f64, what: &str) {
    let found = height_parameters(map).unwrap();
    let named = [
        ("Sa", found.sa_um),
        ("Sq", found.sq_um),
        ("Ssk", found.ssk),
        ("Sku", found.sku),
        ("Sp", found.sp_um),
        ("Sv", found.sv_um),
        ("Sz", found.sz_um),
    ];
    let mut checked = 0;
    for (name, value) in named {
        if let Some(expected) = expected[name].as_f64() {
            assert_near(value, expected, tolerance, &format!("{what} {name}"));
            checked += 1;
        }
    }
    assert!(checked >= 3, "{what}: nothing to check");
}

/// ISO 25178-2:2012, 4.1: height parameters on analytic surfaces sampled on the stated grids.
#[test]
fn height_parameters_on_grids() {
    let k = std::f64::consts::TAU / 50.0;
    let surfaces: [(&str, HeightMap); 4] = [
        ("areal.sin", square_grid(1000, 1.0, |x, _| (k * x).sin())),
        ("areal.crossed_sin", square_grid(1000, 1.0, |x, y| (k * x).sin() + (k * y).sin())),
        ("areal.product_sin", square_grid(1000, 1.0, |x, y| (k * x).sin() * (k * y).sin())),
        ("areal.step", square_grid(100, 1.0, |x, _| if x < 25.0 { 2.0 } else { 0.0 })),
    ];
    for (id, map) in surfaces {
        let case = case("texture.json", id);
        check_heights(&map, &case["expected"]["grid"], number(&case["tol"]), id);
    }
}

/// The same surfaces against their continuous limits: the finer the grid, the nearer; here to the printed digits.
#[test]
fn height_parameters_near_their_continuous_limits() {
    let fine = |z: &dyn Fn(f64, f64) -> f64| square_grid(1000, std::f64::consts::TAU / 1000.0, z);
    let surfaces: [(&str, HeightMap, f64); 4] = [
        ("areal.sin", fine(&|x, _| x.sin()), 1e-5),
        ("areal.crossed_sin", fine(&|x, y| x.sin() + y.sin()), 1e-5),
        ("areal.product_sin", fine(&|x, y| x.sin() * y.sin()), 1e-5),
        // Heights at the middle of a thousand strips; a quadrature error of (1/1000)² is left.
        ("areal.ramp", square_grid(1000, 1e-3, |x, _| x + 5e-4), 2e-3),
    ];
    for (id, map, tolerance) in surfaces {
        let case = case("texture.json", id);
        let expected = if case["expected"]["analytic"].is_object() {
            &case["expected"]["analytic"]
        } else {
            &case["expected"]
        };
        check_heights(&map, expected, tolerance, id);
    }
    let case = case("texture.json", "areal.gaussian");
    // Quantiles of the normal distribution: every probability once.
    let count = 1000 * 1000;
    let quantiles: Vec<f64> =
        (0..count).map(|i| normal_quantile((f64::from(i) + 0.5) / f64::from(count))).collect();
    let map = HeightMap::new(1000, 1000, 1.0, 1.0, quantiles).unwrap();
    check_heights(&map, &case["expected"], 1e-4, "areal.gaussian");
}

/// By bisection of the error function's series; slow and plain.
fn normal_quantile(p: f64) -> f64 {
    let (mut low, mut high) = (-7.0, 7.0);
    for _ in 0..50 {
        let middle = (low + high) / 2.0;
        if normal_probability(middle) < p { low = middle } else { high = middle }
    }
    (low + high) / 2.0
}

fn normal_probability(x: f64) -> f64 {
    // Φ(x) = ½ + φ(x)·(x + x³/3 + x⁵/15 + …).
    let (mut term, mut sum, mut n) = (x, x, 1.0);
    while term.abs() > 1e-17 * sum.abs() && n < 400.0 {
        n += 2.0;
        term *= x * x / n;
        sum += term;
    }
    0.5 + sum * (-x * x / 2.0).exp() / std::f64::consts::TAU.sqrt()
}

/// ISO 25178-2:2012, 4.1: nine heights by hand.
#[test]
fn nine_heights_by_hand() {
    let case = case("texture.json", "areal.3x3");
    let z: Vec<f64> = case["inputs"]["z"].as_array().unwrap().iter().flat_map(numbers).collect();
    let map = HeightMap::new(3, 3, 1.0, 1.0, z).unwrap();
    check_heights(&map, &case["expected"], number(&case["tol"]), "areal.3x3");
}

/// ISO 25178-2:2012, 4.3: slope and developed area of planes and sinusoids (complete elliptic integral).
#[test]
fn hybrid_parameters_on_analytic_surfaces() {
    for id in ["areal.plane", "areal.plane2"] {
        let case = case("texture.json", id);
        let (a, b) = (number(&case["inputs"]["slope_x"]), number(&case["inputs"]["slope_y"]));
        let found = hybrid_parameters(&square_grid(50, 0.5, |x, y| a * x + b * y)).unwrap();
        assert_near(found.sdq, number(&case["expected"]["Sdq"]), number(&case["tol"]), id);
        assert_near(found.sdr_percent, number(&case["expected"]["Sdr_pct"]), number(&case["tol"]), id);
    }
    // A wave of 400 samples; 7-point derivatives are good to 1e-13 there, and whole waves average exactly.
    let wave =
        |amplitude: f64| square_grid(400, std::f64::consts::TAU / 400.0, move |x, _| amplitude * x.sin());
    let case_sdr = case("texture.json", "areal.sdr_sin");
    let steepness = numbers(&case_sdr["inputs"]["Ak"]);
    for (ak, expected) in steepness.iter().zip(numbers(&case_sdr["expected"]["Sdr"])) {
        let found = hybrid_parameters(&wave(*ak)).unwrap();
        assert_near(found.sdr_percent, expected, number(&case_sdr["tol"]), &format!("Sdr at Ak = {ak}"));
    }
    let case = case("texture.json", "areal.sin");
    let found = hybrid_parameters(&wave(0.1256637061435917)).unwrap();
    let analytic = &case["expected"]["analytic"];
    assert_near(found.sdq, number(&analytic["Sdq"]), number(&case["tol"]), "areal.sin Sdq");
    assert_near(found.sdr_percent, number(&analytic["Sdr_pct"]), number(&case["tol"]), "areal.sin Sdr");
}

/// ISO 25178-2:2012, 4.2: autocorrelation lengths of analytic autocorrelations.
#[test]
fn spatial_parameters_of_analytic_autocorrelations() {
    let case_gauss = case("texture.json", "areal.gauss_acf");
    let inputs = |key: &str| number(&case_gauss["inputs"][key]);
    let (bx, by, level) = (inputs("bx"), inputs("by"), inputs("s"));
    let acf = |x: f64, y: f64| (-(x / bx).powi(2) - (y / by).powi(2)).exp();
    let (sal, ratio) = sal_and_str(acf, 100.0, level, 1.0);
    let expected = |key: &str| number(&case_gauss["expected"][key]);
    let tolerance = number(&case_gauss["tol"]);
    assert_near(sal.unwrap(), expected("Sal"), tolerance, "Sal");
    assert_near(ratio.unwrap(), expected("Str"), tolerance, "Str");
    assert_near(sal.unwrap() / ratio.unwrap(), expected("rmax"), tolerance, "longest");
    assert_near(sal.unwrap() / by, expected("Sal_over_b"), tolerance, "Sal/b");

    let case = case("texture.json", "areal.exp_acf");
    let b = number(&case["inputs"]["b"]);
    let (sal, ratio) = sal_and_str(|x: f64, y: f64| (-x.hypot(y) / b).exp(), 100.0, 0.2, 1.0);
    assert_near(sal.unwrap(), number(&case["expected"]["Sal"]), number(&case["tol"]), "Sal, exponential");
    assert_near(ratio.unwrap(), 1.0, 1e-9, "Str, exponential");
}

/// The same autocorrelation as a surface: amplitudes from its spectrum, random phases; one sample of a random surface,
/// so to a few percent only.
#[test]
fn spatial_parameters_of_a_surface_with_a_known_autocorrelation() {
    const SIDE: usize = 1024;
    let case = case("texture.json", "areal.gauss_acf");
    let (bx, by) = (20.0, 5.0);
    let mut random = Pcg64::seed_from_u64(8);
    let frequency = |k: usize| {
        let k = if k <= SIDE / 2 { k as f64 } else { k as f64 - SIDE as f64 };
        std::f64::consts::TAU * k / SIDE as f64
    };
    let mut plane: Vec<Complex<f64>> = (0..SIDE * SIDE)
        .map(|i| {
            let (kx, ky) = (frequency(i % SIDE), frequency(i / SIDE));
            // Power spectrum of exp(−(x/b)²) is a Gaussian of (k·b/2)²; the amplitude is its root.
            let amplitude = (-((kx * bx).powi(2) + (ky * by).powi(2)) / 8.0).exp();
            Complex::from_polar(amplitude, std::f64::consts::TAU * random.random::<f64>())
        })
        .collect();
    plane[0] = Complex::default();
    let inverse = FftPlanner::new().plan_fft_inverse(SIDE);
    inverse.process(&mut plane);
    let mut turned: Vec<Complex<f64>> =
        (0..SIDE * SIDE).map(|i| plane[(i % SIDE) * SIDE + i / SIDE]).collect();
    inverse.process(&mut turned);
    let z = (0..SIDE * SIDE).map(|i| turned[(i % SIDE) * SIDE + i / SIDE].re).collect();
    let map = HeightMap::new(SIDE, SIDE, 1.0, 1.0, z).unwrap();
    let options = TextureOptions { form: Form::Mean, ..TextureOptions::default() };
    let found = texture(&map, &options).unwrap();
    let expected = |key: &str| number(&case["expected"][key]);
    assert_near(found.sal_um.unwrap(), expected("Sal"), 0.04, "Sal of the surface");
    assert_near(found.str_ratio.unwrap(), expected("Str"), 0.08, "Str of the surface");
    assert_near(found.hybrid.sdq / found.heights.sq_um, expected("Sdq"), 0.02, "Sdq of the surface");
    // Long in x: the lay runs along the rows.
    let lay = found.direction.unwrap();
    assert!(lay.lay.degrees().min(180.0 - lay.lay.degrees()) < 3.0, "{:?}", lay.lay);
}

/// Levelling first changes nothing that is not form: a plane under the sine goes away.
#[test]
fn levelling_takes_the_plane_only() {
    let k = std::f64::consts::TAU / 50.0;
    let tilted = square_grid(500, 1.0, |x, y| (k * x).sin() * (k * y).sin() + 0.3 * x - 0.2 * y + 7.0);
    let case = case("texture.json", "areal.product_sin");
    let levelled = level(&tilted, Form::Plane).unwrap();
    check_heights(&levelled, &case["expected"]["analytic"], 0.01, "levelled");
}

/// ISO 21920-2:2021: ten heights by hand.
#[test]
fn profile_parameters_by_hand() {
    let case = case("texture.json", "profile.seq10");
    let found = profile_parameters(&numbers(&case["inputs"]["z"])).unwrap();
    for (name, value) in found {
        assert_near(value, number(&case["expected"][name]), number(&case["tol"]), name);
    }
}

/// ISO 16610-21:2011, 4.1 and 4.2: weighting function and transmission, and the transmission of the sampled kernel.
#[test]
fn gaussian_filter() {
    let weights = case("texture.json", "filter.gauss_weight");
    for (x, expected) in numbers(&weights["inputs"]["x"]).iter().zip(numbers(&weights["expected"]["s"])) {
        assert_near(gaussian_weight(*x, 1.0), expected, number(&weights["tol"]), "weight");
    }
    let case = case("texture.json", "filter.gauss");
    let cutoff = number(&case["inputs"]["lc"]);
    let tolerance = number(&case["tol"]);
    assert_near(ALPHA, number(&case["expected"]["alpha"]), tolerance, "alpha");
    let kernel = gaussian_kernel(cutoff);
    let sigma = ALPHA / std::f64::consts::TAU.sqrt();
    assert_near(sigma, number(&case["expected"]["sigma_over_lc"]), tolerance, "sigma over cutoff");
    let wavelengths = numbers(&case["inputs"]["wavelength"]);
    let analytic = numbers(&case["expected"]["transmission"]);
    let sampled = numbers(&case["expected"]["discrete_L1"]);
    for ((wavelength, analytic), sampled) in wavelengths.iter().zip(analytic).zip(sampled) {
        assert_near(gaussian_transmission(*wavelength, cutoff), analytic, tolerance, "transmission");
        let wave = |k: usize| (std::f64::consts::TAU * k as f64 / wavelength).cos();
        let response =
            kernel.iter().enumerate().map(|(k, w)| if k == 0 { *w } else { 2.0 * w * wave(k) }).sum::<f64>();
        assert_near(response, sampled, tolerance, "transmission of the kernel");
    }
}

/// No case of the tables goes unread.
#[test]
fn every_case_has_its_check() {
    let here = include_str!("published.rs");
    for case in table("texture.json") {
        let id = case["id"].as_str().unwrap();
        assert!(here.contains(&format!("\"{id}\"")), "{id} is not checked");
        for key in ["source", "page", "status", "read_by"] {
            assert!(case[key].as_str().is_some_and(|text| !text.is_empty()), "{id}: no {key}");
        }
    }
}
