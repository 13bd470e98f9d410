//! Graduations and quality on rendered pictures, and on a real graduation where it is at hand.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing helper fails its test")]

use std::path::Path;

use picture::{Facts, GraduationError, Grey, Limits, Verdict, find_graduation, judge, open, read};
use quantity::Measured;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Normal};
use rand_pcg::Pcg64;

const WIDTH: usize = 640;
const HEIGHT: usize = 480;

/// A graduation with longer ticks at every fifth and tenth division, area-sampled, blurred by `blur_px` along its run, with noise.
fn graduation(pitch_px: f64, angle_deg: f64, blur_px: f64, noise: f64, seed: u64) -> Grey {
    let mut rng = Pcg64::seed_from_u64(seed);
    let normal = Normal::new(0.0, noise).unwrap();
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    let (cx, cy) =
        (WIDTH as f64 / 2.0 + rng.random_range(-5.0..5.0), HEIGHT as f64 / 2.0 + rng.random_range(-5.0..5.0));
    // An edge blurred by a Gaussian, by the logistic curve of the same standard deviation.
    let edge = |d: f64| 1.0 / (1.0 + (-d * std::f64::consts::PI / 3f64.sqrt() / blur_px).exp());
    let values = (0..WIDTH * HEIGHT).map(|i| {
        let (dx, dy) = ((i % WIDTH) as f64 - cx, (i / WIDTH) as f64 - cy);
        let (t, s) = (dx * cos + dy * sin, dy * cos - dx * sin);
        let number = (t / pitch_px).round();
        let length = if number % 10.0 == 0.0 {
            170.0
        } else if number % 5.0 == 0.0 {
            125.0
        } else {
            84.0
        };
        let off = t - number * pitch_px;
        let half = 0.175 * pitch_px;
        let inside = (edge(off + half) - edge(off - half)) * edge(s + 70.0) * edge(length - 70.0 - s);
        (0.85 - 0.7 * inside + normal.sample(&mut rng)) as f32
    });
    Grey::new(WIDTH, HEIGHT, values.map(|v| (v.clamp(0.0, 1.0) * 255.0).round() / 255.0).collect()).unwrap()
}

#[test]
fn pitch_is_true_to_its_uncertainty() {
    let mut squares = Vec::new();
    for (i, &angle) in [0.0, 3.0, -7.0, 17.0, 45.0, 88.0, 133.0].iter().enumerate() {
        for (j, &pitch) in [4.3, 7.73, 12.9, 19.37].iter().enumerate() {
            let (blur, noise) = if (i + j) % 2 == 0 { (0.7, 0.01) } else { (0.22 * pitch, 0.03) };
            let found = find_graduation(&graduation(pitch, angle, blur, noise, (10 * i + j) as u64)).unwrap();
            let error = found.pitch_px.value - pitch;
            assert!(error.abs() < 0.002 * pitch, "pitch {pitch} at {angle}°: {}", found.pitch_px);
            squares.push((error / found.pitch_px.u).powi(2));
        }
    }
    let spread = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
    assert!(spread < 1.25, "errors are {spread} of their uncertainty");
}

/// 10 µm a tick, 1.293 µm per pixel as the picture's author measured by hand.
#[test]
fn real_graduation() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/real/stage-micrometer/cal10.png");
    if !path.exists() {
        eprintln!("left out: {} is not at hand", path.display());
        return;
    }
    let (picture, _) = open(&path, &Limits::default()).unwrap();
    let found = find_graduation(&picture.grey).unwrap();
    let (width_px, height_px) = (picture.grey.width() as f64, picture.grey.height() as f64);
    let lens = picture::distortion_from_graduation(&found, width_px, height_px).ok();
    for lens in [None, lens.as_ref()] {
        let scale = found.scale(Measured { value: 10.0, u: 0.0 }, lens, width_px, height_px).unwrap();
        eprintln!("{} ± {} µm/px, {lens:?}", scale.value(), scale.u());
        assert!((scale.value() / 1.293 - 1.0).abs() < 0.005, "{} µm/px, {lens:?}", scale.value());
    }
}

/// Fine-grained stone: patches of several tones with texture and dark specks, sharp.
fn stone(seed: u64) -> Vec<f64> {
    let mut rng = Pcg64::seed_from_u64(seed);
    let n = 700;
    let grains: Vec<(f64, f64, f64)> = (0..n)
        .map(|_| {
            (
                rng.random_range(0.0..WIDTH as f64),
                rng.random_range(0.0..HEIGHT as f64),
                [0.3, 0.45, 0.55, 0.7][rng.random_range(0..4)],
            )
        })
        .collect();
    // Grains by cells of 32 px, so that the nearest is found among few.
    let cell = |x: f64, y: f64| ((x / 32.0) as i64, (y / 32.0) as i64);
    let mut cells = std::collections::BTreeMap::<(i64, i64), Vec<usize>>::new();
    for (i, &(x, y, _)) in grains.iter().enumerate() {
        cells.entry(cell(x, y)).or_default().push(i);
    }
    let normal = Normal::new(0.0, 0.03).unwrap();
    (0..WIDTH * HEIGHT)
        .map(|i| {
            let (x, y) = ((i % WIDTH) as f64, (i / WIDTH) as f64);
            let (cx, cy) = cell(x, y);
            let near = (-2..=2)
                .flat_map(|dy| (-2..=2).map(move |dx| (cx + dx, cy + dy)))
                .filter_map(|key| cells.get(&key))
                .flatten();
            let nearest = near.min_by(|&&a, &&b| {
                (grains[a].0 - x).hypot(grains[a].1 - y).total_cmp(&(grains[b].0 - x).hypot(grains[b].1 - y))
            });
            nearest.map_or(0.5, |&grain| grains[grain].2) + normal.sample(&mut rng)
        })
        .collect()
}

fn moved(values: &[f64], length_px: i64, dx: i64, dy: i64) -> Vec<f64> {
    let (w, h) = (WIDTH as i64, HEIGHT as i64);
    let at = |x: i64, y: i64| values[(y.clamp(0, h - 1) * w + x.clamp(0, w - 1)) as usize];
    let (w, h) = (w, h);
    (0..w * h)
        .map(|i| {
            (0..length_px)
                .map(|k| at(i % w + dx * (k - length_px / 2), i / w + dy * (k - length_px / 2)))
                .sum::<f64>()
                / length_px as f64
        })
        .collect()
}

/// Adds parallel grooves, bright on one side and dark on the other.
fn scratched(values: &[f64], count: usize, angle_deg: f64, seed: u64) -> Vec<f64> {
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut out = values.to_vec();
    for _ in 0..count {
        let (sin, cos) = (angle_deg + rng.random_range(-3.0..3.0f64)).to_radians().sin_cos();
        let (x0, y0) = (rng.random_range(0.0..WIDTH as f64), rng.random_range(0.0..HEIGHT as f64));
        let (width, depth) = (rng.random_range(0.7..2.0), rng.random_range(-0.12..0.12));
        for (i, value) in out.iter_mut().enumerate() {
            let (dx, dy) = ((i % WIDTH) as f64 - x0, (i / WIDTH) as f64 - y0);
            let u = (dx * sin + dy * cos) / width;
            *value += depth * (u + 0.5) * (-u * u / 2.0).exp();
        }
    }
    out
}

fn photographed(values: &[f64], seed: u64) -> Grey {
    let mut rng = Pcg64::seed_from_u64(seed);
    let normal = Normal::new(0.0, 0.008).unwrap();
    let values = values
        .iter()
        .map(|v| ((v + normal.sample(&mut rng)).clamp(0.0, 1.0) * 255.0).round() as f32 / 255.0)
        .collect();
    Grey::new(WIDTH, HEIGHT, values).unwrap()
}

fn facts(grey: &Grey) -> Facts {
    read(&grey.to_png8().unwrap(), "test.png", &Limits::default()).unwrap().facts
}

#[test]
fn motion_is_told_from_a_lay() {
    for seed in 0..3 {
        let base = stone(seed);
        let sharp = photographed(&base, seed);
        assert!(judge(&sharp, &facts(&sharp)).motion.is_none(), "sharp stone {seed}");
        let lay = photographed(&scratched(&base, 120, 30.0 + 40.0 * seed as f64, seed), seed);
        let quality = judge(&lay, &facts(&lay));
        assert!(quality.motion.is_none(), "a lay was taken for motion: {:?}", quality.motion);
        for (length, dx, dy, direction, shown) in
            [(10, 1, 0, 0.0, 10.0), (14, 0, 1, 90.0, 14.0), (9, 1, 1, 135.0, 12.7)]
        {
            let blurred = photographed(&moved(&base, length, dx, dy), seed);
            let quality = judge(&blurred, &facts(&blurred));
            let motion = quality.motion.unwrap_or_else(|| {
                panic!("motion of {length} px along {direction}° not found on stone {seed}")
            });
            assert!(
                motion.direction.angle_to(quantity::AxialDeg::new(direction).unwrap()) < 16.0,
                "{motion:?}"
            );
            assert!((0.6..1.6).contains(&(motion.length_px / shown)), "{motion:?} for {shown}");
            assert_eq!(quality.verdict, Verdict::NotUsable);
        }
    }
}

#[test]
fn compression_is_found_and_measured() {
    let sharp = photographed(&stone(5), 5);
    assert!(judge(&sharp, &facts(&sharp)).blocks.is_none());
    let jpeg = picture::Rgb::from_grey(&sharp).unwrap().to_jpeg(25).unwrap();
    let picture = read(&jpeg, "small.jpg", &Limits::default()).unwrap();
    let quality = judge(&picture.grey, &picture.facts);
    let grid = quality.blocks.unwrap();
    assert!((grid.period_px - 8.0).abs() < 0.05, "{grid:?}");
    // Grid lines lie between pixels 7 and 8.
    assert!(grid.phase_px.iter().all(|phase| (phase - 7.5).abs() < 0.6), "{grid:?}");
    assert!(
        quality.verdict > Verdict::Usable
            && quality.reasons.iter().any(|reason| reason.contains("compression"))
    );
}

#[test]
fn offset_rows_are_found() {
    let mut rng = Pcg64::seed_from_u64(8);
    let offset = Normal::new(0.0, 0.008).unwrap();
    let mut values = stone(8);
    values.chunks_exact_mut(WIDTH).for_each(|row| {
        let own = offset.sample(&mut rng);
        row.iter_mut().for_each(|v| *v += own);
    });
    let grey = photographed(&values, 8);
    let lines = judge(&grey, &facts(&grey)).sensor_rows.unwrap();
    assert!((lines.rows / 0.008 - 1.0).abs() < 0.25 && lines.columns == 0.0, "{lines:?}");
}

#[test]
fn stone_and_courses_are_no_graduation() {
    for seed in 0..3 {
        let grey = photographed(&stone(seed), seed);
        assert!(find_graduation(&grey).is_err(), "stone {seed}");
        let lay = photographed(&scratched(&stone(seed), 100, 20.0, seed), seed);
        assert!(find_graduation(&lay).is_err(), "scratched stone {seed}");
    }
    let small = Grey::new(20, 20, vec![0.5; 400]).unwrap();
    assert!(matches!(find_graduation(&small), Err(GraduationError::TooSmall { .. })));
    let even = Grey::new(200, 200, vec![0.5; 40_000]).unwrap();
    assert!(matches!(find_graduation(&even), Err(GraduationError::NothingRegular { .. })));
}

#[test]
fn empty_and_tiny_pictures_are_judged() {
    for (width, height, value) in [(1, 1, 0.0), (200, 10, 0.5), (300, 300, 0.0), (300, 300, 1.0)] {
        let grey = Grey::new(width, height, vec![value; width * height]).unwrap();
        let quality = judge(&grey, &facts(&grey));
        assert_eq!(quality.verdict, Verdict::NotUsable, "{width} × {height} of {value}");
        assert!(!quality.reasons.is_empty());
    }
}
