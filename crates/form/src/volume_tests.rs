use super::*;

fn level(height: f64, u: f64) -> BlockFace {
    BlockFace { plane: Plane::from_slopes(0.0, 0.0, height), u, scale_u: 0.0 }
}

/// The bar: < 0.1 % on analytic solids. A spherical cap of radius 50 mm and depth 10 mm hollowed out of a face:
/// π h² (3R − h)/3.
#[test]
fn a_hollowed_cap_on_a_height_map() {
    let (radius, depth) = (50.0_f64, 10.0_f64);
    let truth = std::f64::consts::PI * depth * depth * (3.0 * radius - depth) / 3.0;
    let step = 0.1;
    let z_at = |x: f64, y: f64| {
        let rim = x * x + y * y;
        let inside = radius * radius - rim;
        let z = if inside > 0.0 { (radius - depth) - inside.sqrt() } else { 0.0 };
        z.min(0.0) * 1000.0
    };
    let z = (0..801 * 801)
        .map(|i| z_at(f64::from(i % 801) * step - 40.0, f64::from(i / 801) * step - 40.0))
        .collect();
    let map = HeightMap::new(801, 801, step * 1000.0, step * 1000.0, z).unwrap();
    let found = removed_from_map(&map, None, &level(0.0, 0.0)).unwrap();
    assert!((found.volume_mm3.value / truth - 1.0).abs() < 1e-3, "{} of {truth}", found.volume_mm3.value);
    assert_eq!(found.above_mm3, 0.0);
    assert!((found.hand_check_mm3 / truth - 1.0).abs() < 1e-3);

    let mesh = map.to_mesh().unwrap();
    let on_mesh = removed_from_mesh(&mesh, None, &level(0.0, 0.0)).unwrap();
    assert!((on_mesh.volume_mm3.value / truth - 1.0).abs() < 1e-3, "{}", on_mesh.volume_mm3.value);
}

/// A raised face over a block: a box of 20 × 30 × 4 mm, inside an outline that is not convex.
#[test]
fn an_outline_cuts_triangles_exactly() {
    let top = Mesh::new(
        vec![[0.0, 0.0, 5.0], [20.0, 0.0, 5.0], [20.0, 30.0, 5.0], [0.0, 30.0, 5.0]],
        vec![[0, 1, 2], [0, 2, 3]],
    )
    .unwrap()
    .0;
    let l_shape = [
        [1.0, 1.0, 0.0],
        [11.0, 1.0, 0.0],
        [11.0, 6.0, 0.0],
        [6.0, 6.0, 0.0],
        [6.0, 21.0, 0.0],
        [1.0, 21.0, 0.0],
    ];
    let found = removed_from_mesh(&top, Some(&l_shape), &level(9.0, 0.1)).unwrap();
    assert!((found.volume_mm3.value - 4.0 * 125.0).abs() < 1e-9, "{found:?}");
    assert!((found.area_mm2 - 125.0).abs() < 1e-9 && found.unseen_mm2 < 1e-9);
    assert!((found.volume_mm3.u - 12.5).abs() < 1e-9);
    // A tilted block face over the same region: depth at the centroid times the area.
    let tilted = BlockFace { plane: Plane::from_slopes(0.0, 0.1, 9.0), u: 0.0, scale_u: 0.0 };
    let along_normal = removed_from_mesh(&top, Some(&l_shape), &tilted).unwrap();
    assert!(along_normal.volume_mm3.value > found.volume_mm3.value);
}

/// A face that crosses the block face: half below, half above, both counted on their own.
#[test]
fn below_and_above_are_kept_apart() {
    let ramp = Mesh::new(
        vec![[0.0, 0.0, -1.0], [10.0, 0.0, 1.0], [10.0, 10.0, 1.0], [0.0, 10.0, -1.0]],
        vec![[0, 1, 2], [0, 2, 3]],
    )
    .unwrap()
    .0;
    let found = removed_from_mesh(&ramp, None, &level(0.0, 0.0)).unwrap();
    assert!((found.volume_mm3.value - 25.0).abs() < 1e-9, "{found:?}");
    assert!((found.above_mm3 - 25.0).abs() < 1e-9, "{found:?}");
}

#[test]
fn holes_widen_the_uncertainty() {
    let mut z = vec![-1000.0; 100];
    z[33] = f64::NAN;
    let map = HeightMap::new(10, 10, 1000.0, 1000.0, z).unwrap();
    let found = removed_from_map(&map, None, &level(0.0, 0.0)).unwrap();
    assert!((found.volume_mm3.value - 99.0).abs() < 1e-9 && (found.unseen_mm2 - 1.0).abs() < 1e-9);
    assert!((found.volume_mm3.u - 1.0 / 3_f64.sqrt()).abs() < 1e-9);
    let outline = Polygon::rectangle([-500.0, -500.0], [4500.0, 9500.0]).unwrap();
    let half = removed_from_map(&map, Some(&outline), &level(0.0, 0.0)).unwrap();
    assert!((half.area_mm2 - 50.0).abs() < 1e-9 && half.parts.len() == 2, "{half:?}");
}

/// A block with a square notch: the hull fills the notch.
#[test]
fn the_hull_fills_a_notch() {
    let (w, n) = (10.0, 4.0);
    let outline = [[0.0, 0.0], [w, 0.0], [w, w], [n, w], [n, n], [0.0, n]];
    let mut points: Vec<[f64; 3]> = outline.iter().map(|p| [p[0], p[1], 0.0]).collect();
    points.extend(outline.iter().map(|p| [p[0], p[1], 3.0]));
    let caps = [[0, 1, 4], [0, 4, 5], [1, 2, 4], [2, 3, 4]];
    let mut triangles: Vec<[u32; 3]> = caps.iter().map(|&[a, b, c]| [a, c, b]).collect();
    triangles.extend(caps.map(|t| t.map(|c| c + 6)));
    for k in 0..6_u32 {
        let next = (k + 1) % 6;
        triangles.extend([[k, next, next + 6], [k, next + 6, k + 6]]);
    }
    let (mesh, condition) = Mesh::new(points, triangles).unwrap();
    assert!(condition.is_closed(), "{condition:?}");
    let found = removed_from_hull(&mesh, &condition, 0.001).unwrap();
    // Between the notch and the slanting face of the hull lies the triangle (0,4)-(4,4)-(4,10).
    assert!((found.volume_mm3.value - 3.0 * 12.0).abs() < 1e-9, "{found:?}");
    assert!((found.volume_mm3.u - 0.003 * 36.0).abs() < 1e-9);

    let open = MeshCondition { open_edges: 1, ..condition };
    assert!(removed_from_hull(&mesh, &open, 0.0).is_err());
}

/// A whole body has no face of its own: front and back cancel, and what would be left is its own volume.
#[test]
fn a_closed_body_and_a_back_are_refused() {
    let corner = |k: u32| [k & 1, k >> 1 & 1, k >> 2].map(|bit| 0.3 + 7.1 * f64::from(bit));
    let faces = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let triangles: Vec<[u32; 3]> = faces.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
    let (cube, condition) = Mesh::new((0..8).map(corner).collect(), triangles).unwrap();
    assert!(condition.is_closed());
    let tilted = BlockFace { plane: Plane::from_slopes(0.07, 0.03, 9.0), u: 0.0, scale_u: 0.0 };
    let words = |mesh: &Mesh| removed_from_mesh(mesh, None, &tilted).unwrap_err().to_string();
    assert!(words(&cube).contains("cut the scan to the worked face"), "{}", words(&cube));

    let top = (4..8).map(corner).collect::<Vec<_>>();
    let upright = Mesh::new(top.clone(), vec![[0, 1, 3], [0, 3, 2]]).unwrap().0;
    assert!(removed_from_mesh(&upright, None, &tilted).is_ok());
    let turned = Mesh::new(top, vec![[0, 3, 1], [0, 2, 3]]).unwrap().0;
    assert!(words(&turned).contains("turn its triangles over"), "{}", words(&turned));
}
