use super::*;
use rand::SeedableRng;
use rand_distr::{Distribution, Normal};
use rand_pcg::Pcg64;

/// An invented groove along x: V-shaped walls of 50°, depth rising from 2 to 3 mm over 100 mm, edge chips on its lower
/// side (larger y) at 40 mm.
fn grooved(noise_um: f64) -> HeightMap {
    let mut random = Pcg64::seed_from_u64(3);
    let noise = Normal::new(0.0, noise_um).unwrap();
    let (width, height, step) = (1000, 200, 100.0);
    let mut z = Vec::new();
    for row in 0..height {
        for column in 0..width {
            let (x, y) = (f64::from(column) * 0.1, f64::from(row) * 0.1 - 10.0);
            let depth = 2.0 + 0.01 * x;
            let wall = 50_f64.to_radians().tan();
            let shift = if (x - 40.0).abs() < 1.5 && y > 0.0 { 0.8 } else { 0.0 };
            let below = (-depth + (y.abs() - shift).max(0.0) * wall).min(0.0);
            z.push(below * 1000.0 + noise.sample(&mut random));
        }
    }
    HeightMap::new(width as usize, height as usize, step, step, z).unwrap()
}

fn options() -> GrooveOptions {
    GrooveOptions { spacing_mm: 0.25, half_width_mm: 6.0, shoulder_share: 0.2, least_chip_mm: 0.3 }
}

fn assert_as_drawn(found: &Groove, right_is_chipped: bool) {
    assert!((found.depth_mm.value - 2.5).abs() < 0.05, "{:?}", found.depth_mm);
    assert!((found.depth_change.value - 0.01).abs() < 0.001, "{:?}", found.depth_change);
    assert!((found.width_mm.value - 5.0 / 50_f64.to_radians().tan()).abs() < 0.08, "{:?}", found.width_mm);
    assert!((found.left_angle_deg - 50.0).abs() < 1.0, "{}", found.left_angle_deg);
    assert!((found.right_angle_deg - 50.0).abs() < 1.0, "{}", found.right_angle_deg);
    let (chipped, whole) =
        if right_is_chipped { (&found.right, &found.left) } else { (&found.left, &found.right) };
    assert_eq!(whole.chips.len(), 0);
    assert_eq!(chipped.chips.len(), 1, "{:?}", chipped.chips);
    let chip = chipped.chips[0];
    assert!((chip.along_mm - 40.0).abs() < 1.5 && (chip.length_mm - 3.0).abs() < 0.6, "{chip:?}");
    assert!((chip.depth_mm - 0.8).abs() < 0.15, "{chip:?}");
}

#[test]
fn a_groove_on_a_height_map() {
    let found = groove(&grooved(10.0), &[[0.0, 10.0], [99.0, 10.0]], &options()).unwrap();
    assert_as_drawn(&found, true);
    assert!(found.left.raggedness_mm < 0.05 && found.without_groove == 0);
}

#[test]
fn the_same_groove_on_a_mesh() {
    let mesh = grooved(0.0).to_mesh().unwrap();
    let tree = Bvh::new(&mesh);
    // On the mesh y runs up, so the chipped side is still right of the path.
    let path = [[0.5, -10.0, -2.0], [98.5, -10.0, -2.5]];
    let found = groove_on_mesh(&tree, &path, &GrooveOptions { spacing_mm: 0.5, ..options() }).unwrap();
    assert_as_drawn(&found, true);
}

#[test]
fn where_there_is_no_groove_it_says_so() {
    let flat = HeightMap::new(50, 50, 100.0, 100.0, vec![0.0; 2500]).unwrap();
    let found = groove(&flat, &[[1.0, 2.5], [4.0, 2.5]], &GrooveOptions { half_width_mm: 2.0, ..options() });
    assert!(matches!(found, Err(MeasureError::TooFewPoints { found: 0, .. })));
}
