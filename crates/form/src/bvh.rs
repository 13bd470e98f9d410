//! A tree of boxes over the triangles of a mesh: the nearest place on a surface, and what lies in a ball.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::Mesh;

/// Triangles per leaf: few enough to test one by one (measured: 4 to 16 differ little).
const LEAF: usize = 8;

/// An index over one mesh.
pub struct Bvh<'a> {
    mesh: &'a Mesh,
    /// Triangles, those of one leaf side by side.
    order: Vec<u32>,
    /// Where each leaf begins in `order`, and the end of the last one.
    starts: Vec<u32>,
    /// A complete binary tree, children of `i` at `2i + 1` and `2i + 2`.
    boxes: Vec<Bounds>,
}

/// A tree over as many triangles as a number of 32 bits can count is no deeper than this.
const DEEPEST: usize = 32;

/// The place of a surface nearest to a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Nearest {
    pub(crate) triangle: usize,
    pub(crate) place: Vector3<f64>,
    pub(crate) distance_squared: f64,
}

#[derive(Clone, Copy)]
struct Bounds {
    low: Vector3<f64>,
    high: Vector3<f64>,
}

impl Bounds {
    const NOTHING: Self = Self {
        low: Vector3::new(f64::INFINITY, f64::INFINITY, f64::INFINITY),
        high: Vector3::new(f64::NEG_INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY),
    };

    fn with(self, point: Vector3<f64>) -> Self {
        Self { low: self.low.inf(&point), high: self.high.sup(&point) }
    }

    fn joined(self, other: Self) -> Self {
        Self { low: self.low.inf(&other.low), high: self.high.sup(&other.high) }
    }

    fn distance_squared(&self, point: &Vector3<f64>) -> f64 {
        (self.low - point).sup(&(point - self.high)).sup(&Vector3::zeros()).norm_squared()
    }
}

impl<'a> Bvh<'a> {
    /// Builds the index: a second or two per million triangles.
    #[must_use]
    pub fn new(mesh: &'a Mesh) -> Self {
        let count = mesh.triangles().len();
        let depth = count.div_ceil(LEAF).next_power_of_two().trailing_zeros();
        let middles: Vec<[f32; 3]> = (0..count)
            .into_par_iter()
            .map(|t| (mesh.corners(t).iter().sum::<Vector3<f64>>() / 3.0).map(|c| c as f32).into())
            .collect();
        let mut order: Vec<u32> = (0..count as u32).collect();
        arrange(&mut order, &middles, depth);
        drop(middles);
        let mut tree = Self { mesh, starts: leaf_starts(count, depth), order, boxes: Vec::new() };
        tree.boxes = tree.all_boxes();
        tree
    }

    /// The mesh it indexes.
    #[must_use]
    pub fn mesh(&self) -> &'a Mesh {
        self.mesh
    }

    fn all_boxes(&self) -> Vec<Bounds> {
        let leaves = self.starts.len() - 1;
        let leaf_boxes: Vec<Bounds> = (0..leaves)
            .into_par_iter()
            .map(|leaf| {
                let corners = self.leaf(leaf).iter().flat_map(|&t| self.mesh.corners(t as usize));
                corners.fold(Bounds::NOTHING, Bounds::with)
            })
            .collect();
        let mut boxes = vec![Bounds::NOTHING; leaves - 1];
        boxes.extend(leaf_boxes);
        for node in (0..leaves - 1).rev() {
            boxes[node] = boxes[2 * node + 1].joined(boxes[2 * node + 2]);
        }
        boxes
    }

    fn leaf(&self, leaf: usize) -> &[u32] {
        &self.order[self.starts[leaf] as usize..self.starts[leaf + 1] as usize]
    }

    /// The place on the surface nearest to a point, if there is one within `within` of it.
    pub(crate) fn nearest(&self, point: Vector3<f64>, within: f64) -> Option<Nearest> {
        self.nearest_from(point, within, None)
    }

    /// As [`Bvh::nearest`], begun at a triangle that is likely to be near: the one found for the point before.
    pub(crate) fn nearest_from(
        &self,
        point: Vector3<f64>,
        within: f64,
        likely: Option<usize>,
    ) -> Option<Nearest> {
        let mut best: Option<Nearest> = None;
        let mut limit = within * within;
        let mut look = |triangle: usize, limit: &mut f64| {
            let place = nearest_on_triangle(&point, &self.mesh.corners(triangle));
            let distance_squared = (place - point).norm_squared();
            if distance_squared <= *limit {
                *limit = distance_squared;
                best = Some(Nearest { triangle, place, distance_squared });
            }
        };
        if let Some(triangle) = likely {
            look(triangle, &mut limit);
        }
        let first_leaf = self.boxes.len() / 2;
        // Each level leaves one sibling behind at most.
        let mut stack = [(0.0, 0_u32); DEEPEST + 1];
        stack[0] = (self.boxes[0].distance_squared(&point), 0);
        let mut height = 1;
        while height > 0 {
            height -= 1;
            let (distance, node) = stack[height];
            let node = node as usize;
            if distance > limit {
                continue;
            }
            if node >= first_leaf {
                self.leaf(node - first_leaf).iter().for_each(|&t| look(t as usize, &mut limit));
                continue;
            }
            let children = [2 * node + 1, 2 * node + 2];
            let [near, far] =
                children.map(|child| (self.boxes[child].distance_squared(&point), child as u32));
            let (near, far) = if near.0 <= far.0 { (near, far) } else { (far, near) };
            for child in [far, near] {
                if child.0 <= limit {
                    stack[height] = child;
                    height += 1;
                }
            }
        }
        best
    }

    /// Triangles that may reach into a ball, in the order of the mesh.
    pub(crate) fn in_ball(&self, centre: Vector3<f64>, radius: f64) -> Vec<usize> {
        let limit = radius * radius;
        let first_leaf = self.boxes.len() / 2;
        let mut found = Vec::new();
        let mut stack = vec![0_usize];
        while let Some(node) = stack.pop() {
            if self.boxes[node].distance_squared(&centre) > limit {
                continue;
            }
            if node >= first_leaf {
                let leaf = self.leaf(node - first_leaf).iter().map(|&t| t as usize);
                found.extend(leaf.filter(|&t| {
                    let place = nearest_on_triangle(&centre, &self.mesh.corners(t));
                    (place - centre).norm_squared() <= limit
                }));
            } else {
                stack.extend([2 * node + 1, 2 * node + 2]);
            }
        }
        found.sort_unstable();
        found
    }
}

/// Where the leaves begin: the halves that [`arrange`] makes.
fn leaf_starts(count: usize, depth: u32) -> Vec<u32> {
    let mut starts = vec![0, count as u32];
    for _ in 0..depth {
        let mut finer = Vec::with_capacity(2 * starts.len());
        for pair in starts.windows(2) {
            finer.extend([pair[0], pair[0] + (pair[1] - pair[0]) / 2]);
        }
        finer.push(count as u32);
        starts = finer;
    }
    starts
}

/// Puts the triangles of each half of the tree side by side, split at the median across the longest side.
fn arrange(order: &mut [u32], middles: &[[f32; 3]], depth: u32) {
    if depth == 0 || order.is_empty() {
        return;
    }
    let start = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
    let (low, high) = order.iter().fold(start, |(low, high), &t| {
        let m = middles[t as usize];
        (std::array::from_fn(|k| low[k].min(m[k])), std::array::from_fn(|k| high[k].max(m[k])))
    });
    let axis = (0..3).max_by(|&a, &b| (high[a] - low[a]).total_cmp(&(high[b] - low[b]))).unwrap_or(0);
    let half = order.len() / 2;
    // The index breaks ties, so the tree is the same on every machine.
    let key = |t: &u32| middles[*t as usize][axis];
    order.select_nth_unstable_by(half, |a, b| key(a).total_cmp(&key(b)).then(a.cmp(b)));
    let (first, second) = order.split_at_mut(half);
    rayon::join(|| arrange(first, middles, depth - 1), || arrange(second, middles, depth - 1));
}

/// The place of a triangle nearest to a point: its plane's foot if inside, else the nearest of its edges.
fn nearest_on_triangle(point: &Vector3<f64>, [a, b, c]: &[Vector3<f64>; 3]) -> Vector3<f64> {
    let (ab, ac, ap) = (b - a, c - a, point - a);
    let normal = ab.cross(&ac);
    let doubled = normal.norm_squared();
    // Barycentric coordinates of the foot of the perpendicular.
    let v = ap.cross(&ac).dot(&normal) / doubled;
    let w = ab.cross(&ap).dot(&normal) / doubled;
    if v >= 0.0 && w >= 0.0 && v + w <= 1.0 {
        return a + ab * v + ac * w;
    }
    let on_edge = |from: &Vector3<f64>, to: &Vector3<f64>| {
        let along = to - from;
        from + along * ((point - from).dot(&along) / along.norm_squared()).clamp(0.0, 1.0)
    };
    let edges = [on_edge(a, b), on_edge(b, c), on_edge(c, a)];
    let closer = |p: Vector3<f64>, q: Vector3<f64>| {
        if (q - point).norm_squared() < (p - point).norm_squared() { q } else { p }
    };
    closer(closer(edges[0], edges[1]), edges[2])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::tests::block;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64;

    #[test]
    fn nearest_agrees_with_looking_at_every_triangle() {
        let mut random = Pcg64::seed_from_u64(4);
        let points: Vec<[f64; 3]> =
            (0..300).map(|_| std::array::from_fn(|_| random.random::<f64>())).collect();
        let triangles = (0..100).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
        let (mesh, _) = Mesh::new(points, triangles).unwrap();
        let tree = Bvh::new(&mesh);
        for _ in 0..200 {
            let point = Vector3::from_fn(|_, _| random.random::<f64>() * 2.0 - 0.5);
            let every = (0..100)
                .map(|t| (nearest_on_triangle(&point, &mesh.corners(t)) - point).norm_squared())
                .fold(f64::INFINITY, f64::min);
            let found = tree.nearest(point, 10.0).unwrap();
            assert_eq!(found.distance_squared, every);
            let radius = 0.2;
            let in_ball = (0..100)
                .filter(|&t| (nearest_on_triangle(&point, &mesh.corners(t)) - point).norm() <= radius)
                .collect::<Vec<_>>();
            assert_eq!(tree.in_ball(point, radius), in_ball);
        }
    }

    #[test]
    fn distances_to_a_block() {
        let block = block([2.0, 3.0, 4.0]);
        let tree = Bvh::new(&block);
        for (point, distance) in
            [([3.0, 1.0, 1.0], 1.0), ([3.0, 4.0, 1.0], 2_f64.sqrt()), ([1.0, 1.0, 0.25], 0.25)]
        {
            let found = tree.nearest(Vector3::from(point), 10.0).unwrap();
            assert!((found.distance_squared.sqrt() - distance).abs() < 1e-12);
        }
        assert!(tree.nearest(Vector3::new(9.0, 0.0, 0.0), 1.0).is_none());
    }
}
