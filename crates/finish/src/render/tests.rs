//! The pictures against their truth.

use picture::{Distortion, Grey};
use quantity::Measured;

use super::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};

use super::*;

const WIDTH: usize = 320;
const HEIGHT: usize = 240;

/// One flat, even mineral under a noise-free camera.
fn blank(lamp: Lamp) -> Scene {
    let mineral = Mineral {
        share: 1.0,
        grey: 0.4,
        grey_spread: 0.0,
        mottle: 0.0,
        mottle_um: 10.0,
        altered: 0.0,
        gloss: 0.3,
        yields: 1.0,
        relief_um: 0.0,
        elongation: 1.0,
        size: 1.0,
        lines: Vec::new(),
    };
    let stone = Stone {
        minerals: vec![mineral],
        grain_um: 100.0,
        grain_spread: 0.3,
        boundary_waviness: 0.0,
        boundary_contrast: 0.0,
        boundary_um: 1.0,
        waviness_um: 0.0,
        roughness_um: 0.0,
        roughness_length_um: 10.0,
        pits_per_mm2: 0.0,
        pit_um: 1.0,
        cracks_per_mm2: 0.0,
        fibres_per_mm2: 0.0,
    };
    Scene {
        width_px: WIDTH,
        height_px: HEIGHT,
        um_per_px: 2.0,
        stone,
        grooves: Vec::new(),
        lighting: Lighting { lamp, ambient: 0.1, lobe: 0.3 },
        optics: Optics {
            blur_px: 1.0,
            motion: None,
            vignetting: 0.0,
            gradient: [0.0, 0.0],
            distortion: None,
            mean_grey: 0.5,
        },
        sensor: Sensor {
            full_well: 1e9,
            read_electrons: 0.0,
            mosaic: false,
            row_noise: 0.0,
            tone: Tone::Srgb,
            jpeg_quality: None,
        },
    }
}

fn plain(points_um: Vec<[f64; 2]>, width_um: f64, depth_um: f64) -> Groove {
    Groove { points_um, width_um, depth_um, character: Character::PLAIN }
}

/// A scene as awkward as they come, small.
fn awkward() -> Scene {
    let (lighting, mut optics, sensor) = instrument(InstrumentMake::HandHeld, 40.0);
    optics.distortion = Some(Distortion { k1: Measured::exact(0.03), centre_px: None });
    let groove = |k: usize, make| Groove {
        points_um: line([20.0, 40.0 + 30.0 * k as f64], [700.0, 100.0 + 25.0 * k as f64]),
        width_um: 6.0,
        depth_um: 0.4,
        character: character(make),
    };
    let mut grooves: Vec<Groove> = [GrooveMake::Clean, GrooveMake::Uneven, GrooveMake::Chipped]
        .into_iter()
        .enumerate()
        .map(|(k, m)| groove(k, m))
        .collect();
    grooves.push(Groove { points_um: arc([300.0, 300.0], 120.0, 0.3, 5.0), ..grooves[1].clone() });
    Scene {
        width_px: WIDTH,
        height_px: HEIGHT,
        um_per_px: 2.0,
        stone: StoneMake::Diorite.stone(160.0),
        grooves,
        lighting,
        optics,
        sensor,
    }
}

fn bilinear(grey: &Grey, x: f64, y: f64) -> f64 {
    let (i, j) = (x.floor() as usize, y.floor() as usize);
    let (fx, fy) = (x - x.floor(), y - y.floor());
    let at = |x: usize, y: usize| f64::from(grey.row(y)[x]);
    (at(i, j) * (1.0 - fx) + at(i + 1, j) * fx) * (1.0 - fy)
        + (at(i, j + 1) * (1.0 - fx) + at(i + 1, j + 1) * fx) * fy
}

/// Difference that a groove makes across its true centre line, every quarter pixel out to `reach`; `None` near the edge.
fn across(with: &Grey, without: &Grey, points: &[[f64; 2]], k: usize, reach: f64) -> Option<Vec<(f64, f64)>> {
    let (a, b) = (points[k - 1], points[k + 1]);
    let length = (b[0] - a[0]).hypot(b[1] - a[1]);
    let normal = [(b[1] - a[1]) / length, -(b[0] - a[0]) / length];
    let steps = (4.0 * reach) as i32;
    (-steps..=steps)
        .map(|i| {
            let t = f64::from(i) / 4.0;
            let (x, y) = (points[k][0] + t * normal[0], points[k][1] + t * normal[1]);
            let inside = x > 0.0 && y > 0.0 && x < (WIDTH - 2) as f64 && y < (HEIGHT - 2) as f64;
            inside.then(|| (t, bilinear(with, x, y) - bilinear(without, x, y)))
        })
        .collect()
}

/// The dark trail of a groove under coaxial light lies on the true line: mean within 0.05 px, everywhere within 0.2 px.
#[test]
fn signature_lies_on_the_true_line_through_a_bending_lens() {
    for (k1, points) in [
        (0.0, line([60.0, 90.0], [560.0, 371.0])),
        (0.06, line([30.0, 60.0], [610.0, 110.0])),
        (-0.08, arc([320.0, 700.0], 480.0, 1.0, 1.1)),
    ] {
        let mut scene = blank(Lamp::Coaxial);
        scene.optics.distortion = Some(Distortion { k1: Measured::exact(k1), centre_px: None });
        let without = render(&scene, 1).unwrap().grey;
        scene.grooves = vec![plain(points, 9.0, 2.0)];
        let with = render(&scene, 1).unwrap();
        let scratch = &with.truth.scratches[0];
        let offsets: Vec<f64> = (2..scratch.points_px.len() - 2)
            .filter_map(|k| across(&with.grey, &without, &scratch.points_px, k, 7.0))
            .map(|profile| {
                let weight: f64 = profile.iter().map(|(_, d)| d * d).sum();
                profile.iter().map(|(t, d)| t * d * d).sum::<f64>() / weight
            })
            .collect();
        assert!(offsets.len() > 100, "k1 {k1}: only {} cross-sections", offsets.len());
        let mean = offsets.iter().sum::<f64>() / offsets.len() as f64;
        let worst = offsets.iter().fold(0.0f64, |w, o| w.max(o.abs()));
        assert!(mean.abs() < 0.05 && worst < 0.2, "k1 {k1}: mean {mean}, worst {worst}");
    }
}

/// The stated contrast-to-noise ratio against the pictures themselves: difference with and without the groove.
#[test]
fn cnr_is_what_the_pictures_show() {
    for lamp in [
        Lamp::OneSided { azimuth_deg: 70.0, elevation_deg: 30.0 },
        Lamp::Ring { elevation_deg: 35.0 },
        Lamp::Coaxial,
    ] {
        let mut scene = blank(lamp);
        scene.sensor.full_well = 4000.0;
        let mut quiet = scene.clone();
        quiet.sensor.full_well = 1e9;
        let without = render(&quiet, 5).unwrap().grey;
        let groove = plain(line([60.0, 90.0], [560.0, 331.0]), 12.0, 3.0);
        scene.grooves = vec![groove.clone()];
        quiet.grooves = vec![groove];
        let truth = render(&scene, 5).unwrap().truth;
        let with = render(&quiet, 5).unwrap().grey;
        let scratch = &truth.scratches[0];
        // All cross-sections are alike: their mean is free of the rounding to eight bits.
        let ks: Vec<usize> = (10..scratch.points_px.len() - 10).collect();
        let sections: Vec<_> =
            ks.iter().filter_map(|&k| across(&with, &without, &scratch.points_px, k, 10.0)).collect();
        let power: f64 = (0..sections[0].len())
            .map(|i| (sections.iter().map(|s| s[i].1).sum::<f64>() / sections.len() as f64).powi(2) * 0.25)
            .sum();
        let mean = |of: &dyn Fn(usize) -> f64| ks.iter().map(|&k| of(k)).sum::<f64>() / ks.len() as f64;
        let sigma = mean(&|k| f64::from(truth.clutter.at(scratch.points_px[k][0], scratch.points_px[k][1])));
        let shown = (power / scratch.width_px.max(1.0)).sqrt() / sigma;
        let ratio = mean(&|k| f64::from(scratch.cnr_along[k])) / shown;
        // Bilinear reading softens the shown profile by a few per cent.
        assert!((0.97..1.10).contains(&ratio), "{lamp:?}: stated over shown {ratio}");
        let rms = (scratch.cnr_along.iter().map(|&c| f64::from(c).powi(2)).sum::<f64>()
            / scratch.cnr_along.len() as f64)
            .sqrt();
        assert!((rms - scratch.cnr).abs() < 1e-9);
    }
}

/// Geometry of relief under light: the wall that faces the lamp is the bright one.
#[test]
fn the_wall_facing_the_lamp_is_bright() {
    let mut scene = blank(Lamp::OneSided { azimuth_deg: 0.0, elevation_deg: 30.0 });
    let without = render(&scene, 1).unwrap().grey;
    scene.grooves = vec![plain(line([320.0, 10.0], [320.0, 470.0]), 16.0, 1.0)];
    let with = render(&scene, 1).unwrap().grey;
    let change = |x: usize| f64::from(with.row(120)[x] - without.row(120)[x]);
    // Light from the right: the left wall descends to the right and faces it.
    assert!(change(157) > 0.03 && change(163) < -0.03, "{} {}", change(157), change(163));
    // Along the light nothing is seen.
    scene.grooves = vec![plain(line([10.0, 240.0], [630.0, 240.0]), 16.0, 1.0)];
    let hidden = render(&scene, 1).unwrap().grey;
    let seen =
        (0..HEIGHT).map(|y| f64::from(hidden.row(y)[160] - without.row(y)[160]).abs()).fold(0.0, f64::max);
    assert!(seen < 0.25 * change(157), "{seen}");
}

#[test]
fn same_seed_same_picture_at_any_number_of_threads() {
    let scene = awkward();
    let on = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| render(&scene, 42).unwrap())
    };
    let one = on(1);
    assert_eq!(one, on(2));
    assert_eq!(one, on(5));
    assert_ne!(one.grey, render(&scene, 43).unwrap().grey);
}

#[test]
fn ends_length_and_visible_part() {
    let mut scene = blank(Lamp::Coaxial);
    scene.grooves = vec![
        plain(line([100.0, 100.0], [400.0, 100.0]), 6.0, 0.5),
        plain(line([-300.0, 200.0], [1000.0, 200.0]), 6.0, 0.5),
        plain(line([-100.0, 300.0], [300.0, 300.0]), 6.0, 0.5),
        plain(line([-100.0, -300.0], [-50.0, -300.0]), 6.0, 0.5),
    ];
    let truth = render(&scene, 3).unwrap().truth;
    let seen: Vec<_> = truth.scratches.iter().map(|s| (s.groove, s.ends_inside, s.length_px)).collect();
    assert_eq!(seen.len(), 3, "{seen:?}");
    for ((groove, ends, length), (wanted_ends, wanted)) in
        seen.iter().zip([([true, true], 150.0), ([false, false], 320.0), ([false, true], 150.0)])
    {
        assert_eq!(*ends, wanted_ends, "groove {groove}");
        assert!((length - wanted).abs() < 3.0, "groove {groove}: {length}");
    }
    // Skipping lowers the visible part, not the length.
    let mut skipping = scene.grooves[1].clone();
    skipping.character.skips = 0.5;
    skipping.character.unevenness_um = 30.0;
    scene.grooves = vec![skipping];
    let truth = render(&scene, 3).unwrap().truth;
    let s = &truth.scratches[0];
    assert!(
        s.visible_px < 0.8 * s.length_px && s.visible_px > 0.2 * s.length_px,
        "{} of {}",
        s.visible_px,
        s.length_px
    );
}

/// A loop that leaves the picture and comes back is seen as two scratches of one groove.
#[test]
fn a_groove_that_leaves_and_returns_is_two_scratches() {
    let mut scene = blank(Lamp::Coaxial);
    scene.grooves = vec![plain(arc([320.0, 0.0], 200.0, 3.0, 3.5 + 2.0 * std::f64::consts::PI), 6.0, 0.5)];
    let truth = render(&scene, 3).unwrap().truth;
    assert!(
        truth.scratches.len() >= 2 && truth.scratches.iter().all(|s| s.groove == 0),
        "{}",
        truth.scratches.len()
    );
}

/// Circles have one curvature whatever their sweep; the sign is that of `trace::Trace`.
#[test]
fn direction_and_curvature_of_circles() {
    let sampled = |from: f64, sweep: f64, radius: f64| -> Vec<[f64; 2]> {
        (0..=400)
            .map(|k| {
                let a = from + sweep * f64::from(k) / 400.0;
                [radius * a.cos(), -radius * a.sin()]
            })
            .collect()
    };
    for radius in [50.0, 3000.0] {
        for sweep in [0.05, 1.0, 3.0] {
            // Centred on the top of the circle and walked to the left: bends counter-clockwise, but walked along
            // increasing x it bends clockwise.
            let top = sampled(0.5 * std::f64::consts::PI - 0.5 * sweep, sweep, radius);
            let (direction, curvature) = axis_and_curvature(&top).unwrap();
            assert!(direction.degrees().min(180.0 - direction.degrees()) < 1e-6, "{direction:?}");
            assert!(
                (curvature * radius + 1.0).abs() < 1e-4,
                "{curvature} for radius {radius}, sweep {sweep}"
            );
            let backwards: Vec<_> = top.iter().rev().copied().collect();
            assert!((axis_and_curvature(&backwards).unwrap().1 - curvature).abs() < 1e-12);
            let bottom = sampled(1.5 * std::f64::consts::PI - 0.5 * sweep, sweep, radius);
            assert!((axis_and_curvature(&bottom).unwrap().1 * radius - 1.0).abs() < 1e-4);
        }
    }
}

#[test]
fn lines_of_the_stone_lie_on_its_map() {
    let rendered = render(&awkward(), 9).unwrap();
    let truth = &rendered.truth;
    for kind in [LineKind::Lamella, LineKind::Boundary] {
        let lines: Vec<_> = truth.lines_of_the_stone.iter().filter(|l| l.kind == kind).collect();
        assert!(lines.len() > 3, "{kind:?}: {}", lines.len());
        let (mut on, mut all) = (0, 0);
        for p in lines.iter().flat_map(|l| &l.points_px) {
            let (x, y) = (p[0].round() as usize, p[1].round() as usize);
            if x < WIDTH && y < HEIGHT {
                all += 1;
                on += usize::from(truth.stone_draws(y * WIDTH + x, kind));
            }
        }
        assert!(on as f64 > 0.9 * all as f64, "{kind:?}: {on} of {all} points on the map");
    }
}

#[test]
fn impossible_scenes_are_refused() {
    let good = blank(Lamp::Coaxial);
    assert!(matches!(render(&Scene { width_px: 8, ..good.clone() }, 1), Err(RenderError::TooSmall { .. })));
    for scale in [0.0, -1.0, f64::NAN] {
        assert!(matches!(render(&Scene { um_per_px: scale, ..good.clone() }, 1), Err(RenderError::Scale(_))));
    }
    let mut bare = good.clone();
    bare.stone.minerals.clear();
    assert!(matches!(render(&bare, 1), Err(RenderError::Minerals(0))));
    // Nonsense paths draw nothing and break nothing.
    let mut odd = good;
    odd.grooves = vec![
        plain(vec![], 5.0, 1.0),
        plain(vec![[1.0, 1.0]], 5.0, 1.0),
        plain(line([f64::NAN, 0.0], [9.0, 9.0]), 5.0, 1.0),
    ];
    assert!(render(&odd, 1).unwrap().truth.scratches.is_empty());
}
