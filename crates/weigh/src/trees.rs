//! Gradient-boosted trees on binned observables, for a softmax over finishes.
//!
//! Every sum runs in a fixed order, and parallel work is split by class: the same digits at any number of threads.

use crate::bytes::{Reader, Writer};
use rayon::prelude::*;

/// Most bins of one observable; bin 0 is kept for missing values.
const MOST_BINS: usize = 64;

/// Settings of the boosting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Boosting {
    /// Rounds.
    pub rounds: usize,
    /// Depth of each tree.
    pub depth: usize,
    /// Learning rate.
    pub rate: f64,
    /// Ridge on leaf values.
    pub ridge: f64,
    /// Least sum of second derivatives in a leaf.
    pub least_weight: f64,
    /// Share of the observables each tree may use.
    pub column_share: f64,
}

impl Boosting {
    /// The settings of the engine, chosen on simulated objects under the shifted prior (`benches/weigh`).
    pub const USUAL: Boosting =
        Boosting { rounds: 160, depth: 4, rate: 0.1, ridge: 2.0, least_weight: 5.0, column_share: 0.2 };
    /// For guards, which have more rows to learn from and need not be sharp.
    pub const GUARD: Boosting = Boosting { rounds: 100, ..Boosting::USUAL };
    /// For models that only show what an answer rests on, and for small engines.
    pub const QUICK: Boosting = Boosting { rounds: 50, rate: 0.2, ..Boosting::USUAL };
}

/// Edges that turn values into bins.
#[derive(Debug, Clone, PartialEq)]
pub struct Binner {
    edges: Vec<Vec<f32>>,
}

impl Binner {
    /// Bins at even quantiles of the rows given.
    #[must_use]
    pub fn fit(rows: &[&[f32]]) -> Binner {
        let n_columns = rows.first().map_or(0, |row| row.len());
        let edges = (0..n_columns)
            .into_par_iter()
            .map(|column| {
                let mut values: Vec<f32> =
                    rows.iter().map(|row| row[column]).filter(|v| v.is_finite()).collect();
                values.sort_by(f32::total_cmp);
                let mut edges: Vec<f32> = (1..MOST_BINS - 1)
                    .filter_map(|k| values.get(k * values.len() / (MOST_BINS - 1)).copied())
                    .collect();
                edges.dedup();
                edges
            })
            .collect();
        Binner { edges }
    }

    fn bin(&self, column: usize, value: f32) -> u8 {
        if !value.is_finite() {
            return 0;
        }
        1 + self.edges[column].partition_point(|edge| *edge <= value) as u8
    }

    /// One row in bins.
    #[must_use]
    pub fn bins(&self, row: &[f32]) -> Vec<u8> {
        row.iter().enumerate().map(|(column, value)| self.bin(column, *value)).collect()
    }
}

/// One node: a split, or a leaf where `column` is `u16::MAX`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    column: u16,
    /// Rows with a bin below this go left.
    bin: u8,
    /// Left child; the right one follows it.
    left: u32,
    value: f32,
}

const LEAF: u16 = u16::MAX;

/// A boosted model: for every round one tree per class.
#[derive(Debug, Clone, PartialEq)]
pub struct Trees {
    binner: Binner,
    n_classes: usize,
    trees: Vec<Vec<Node>>,
}

/// Binned rows with their classes and weights.
pub struct Table {
    binner: Binner,
    bins: Vec<u8>,
    n_columns: usize,
    classes: Vec<usize>,
    weights: Vec<f64>,
    n_classes: usize,
}

impl Table {
    /// A table of rows; `weights` count how much each row matters.
    #[must_use]
    pub fn new(rows: &[&[f32]], classes: Vec<usize>, weights: Vec<f64>, n_classes: usize) -> Table {
        let binner = Binner::fit(rows);
        let n_columns = rows.first().map_or(0, |row| row.len());
        let bins: Vec<u8> = rows.par_iter().flat_map_iter(|row| binner.bins(row)).collect();
        Table { binner, bins, n_columns, classes, weights, n_classes }
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.classes.len()
    }

    /// Whether there are no rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.classes.is_empty()
    }

    /// Fits a model to the rows `chosen`, using only `columns`.
    #[must_use]
    pub fn boost(&self, chosen: &[u32], columns: &[u16], boosting: &Boosting) -> Trees {
        let n = chosen.len();
        let mut scores = vec![vec![0.0_f64; n]; self.n_classes];
        let mut trees = Vec::with_capacity(boosting.rounds * self.n_classes);
        for round in 0..boosting.rounds {
            let shares = softmax_columns(&scores);
            let grown: Vec<(Vec<Node>, Vec<f64>)> = (0..self.n_classes)
                .into_par_iter()
                .map(|class| {
                    let mine =
                        some_columns(columns, boosting.column_share, (round * self.n_classes + class) as u64);
                    self.grow(chosen, &mine, class, &shares[class], boosting)
                })
                .collect();
            for (class, (nodes, steps)) in grown.into_iter().enumerate() {
                for (score, step) in scores[class].iter_mut().zip(&steps) {
                    *score += step;
                }
                trees.push(nodes);
            }
        }
        Trees { binner: self.binner.clone(), n_classes: self.n_classes, trees }
    }

    /// Grows one tree for one class; returns it and its value for every chosen row.
    fn grow(
        &self,
        chosen: &[u32],
        columns: &[u16],
        class: usize,
        shares: &[f64],
        boosting: &Boosting,
    ) -> (Vec<Node>, Vec<f64>) {
        let mut pairs = Vec::with_capacity(chosen.len());
        for (row, share) in chosen.iter().zip(shares) {
            let weight = self.weights[*row as usize];
            let hit = f64::from(u8::from(self.classes[*row as usize] == class));
            pairs
                .push([(weight * (hit - share)) as f32, (weight * (share * (1.0 - share)).max(1e-6)) as f32]);
        }
        let mut order: Vec<u32> = (0..chosen.len() as u32).collect();
        let mut nodes = vec![Node { column: LEAF, bin: 0, left: 0, value: 0.0 }];
        let mut steps = vec![0.0; chosen.len()];
        let mut open = vec![Open { node: 0, from: 0, to: chosen.len(), histogram: None }];
        for level in 0..=boosting.depth {
            let mut next = Vec::new();
            for mut node in open {
                let rows = &mut order[node.from..node.to];
                let split = if level < boosting.depth {
                    let histogram = node
                        .histogram
                        .take()
                        .unwrap_or_else(|| self.histogram(rows, chosen, columns, &pairs));
                    best_split(&histogram, columns, boosting).map(|split| (split, histogram))
                } else {
                    None
                };
                let Some(((position, bin), histogram)) = split else {
                    let value = leaf_value(rows, &pairs, boosting);
                    nodes[node.node].value = value as f32;
                    rows.iter().for_each(|row| steps[*row as usize] = f64::from(value as f32));
                    continue;
                };
                let column = columns[position];
                let left_len = self.partition(rows, chosen, column, bin);
                let left = nodes.len() as u32;
                nodes[node.node] = Node { column, bin, left, value: 0.0 };
                nodes.extend([Node { column: LEAF, bin: 0, left: 0, value: 0.0 }; 2]);
                let middle = node.from + left_len;
                // Count the smaller child and subtract it from the parent for the larger.
                let small_left = left_len * 2 <= node.to - node.from;
                let (mut for_left, mut for_right) = (None, None);
                if level + 1 < boosting.depth {
                    let small = if small_left { node.from..middle } else { middle..node.to };
                    let counted = self.histogram(&order[small], chosen, columns, &pairs);
                    let rest: Vec<[f32; 2]> = histogram
                        .iter()
                        .zip(&counted)
                        .map(|(all, part)| [all[0] - part[0], all[1] - part[1]])
                        .collect();
                    (for_left, for_right) =
                        if small_left { (Some(counted), Some(rest)) } else { (Some(rest), Some(counted)) };
                }
                next.push(Open { node: left as usize, from: node.from, to: middle, histogram: for_left });
                next.push(Open { node: left as usize + 1, from: middle, to: node.to, histogram: for_right });
            }
            open = next;
        }
        (nodes, steps)
    }

    fn histogram(&self, rows: &[u32], chosen: &[u32], columns: &[u16], pairs: &[[f32; 2]]) -> Vec<[f32; 2]> {
        let mut histogram = vec![[0.0_f32; 2]; columns.len() * MOST_BINS];
        for row in rows {
            let pair = pairs[*row as usize];
            let start = chosen[*row as usize] as usize * self.n_columns;
            let bins = &self.bins[start..start + self.n_columns];
            for (slots, column) in histogram.chunks_exact_mut(MOST_BINS).zip(columns) {
                let slot = &mut slots[usize::from(bins[usize::from(*column)]) % MOST_BINS];
                slot[0] += pair[0];
                slot[1] += pair[1];
            }
        }
        histogram
    }

    /// Moves rows whose bin lies below `bin` to the front, keeping the order; returns how many.
    fn partition(&self, rows: &mut [u32], chosen: &[u32], column: u16, bin: u8) -> usize {
        let goes_left =
            |row: u32| self.bins[chosen[row as usize] as usize * self.n_columns + usize::from(column)] < bin;
        let right: Vec<u32> = rows.iter().copied().filter(|row| !goes_left(*row)).collect();
        let mut n_left = 0;
        for index in 0..rows.len() {
            if goes_left(rows[index]) {
                rows[n_left] = rows[index];
                n_left += 1;
            }
        }
        rows[n_left..].copy_from_slice(&right);
        n_left
    }
}

struct Open {
    node: usize,
    from: usize,
    to: usize,
    histogram: Option<Vec<[f32; 2]>>,
}

fn leaf_value(rows: &[u32], pairs: &[[f32; 2]], boosting: &Boosting) -> f64 {
    let (gradient, curvature) = rows.iter().fold((0.0, 0.0), |(g, h), row| {
        let pair = pairs[*row as usize];
        (g + f64::from(pair[0]), h + f64::from(pair[1]))
    });
    boosting.rate * (gradient / (curvature + boosting.ridge)).clamp(-8.0, 8.0)
}

fn best_split(histogram: &[[f32; 2]], columns: &[u16], boosting: &Boosting) -> Option<(usize, u8)> {
    let gain_of = |g: f64, h: f64| g * g / (h + boosting.ridge);
    let mut best: Option<(f64, usize, u8)> = None;
    for (position, slots) in histogram.chunks_exact(MOST_BINS).enumerate().take(columns.len()) {
        let (g_all, h_all) =
            slots.iter().fold((0.0, 0.0), |(g, h), s| (g + f64::from(s[0]), h + f64::from(s[1])));
        let (mut g, mut h) = (0.0, 0.0);
        for (bin, slot) in slots.iter().enumerate().take(MOST_BINS - 1) {
            g += f64::from(slot[0]);
            h += f64::from(slot[1]);
            if h < boosting.least_weight || h_all - h < boosting.least_weight {
                continue;
            }
            let gain = gain_of(g, h) + gain_of(g_all - g, h_all - h) - gain_of(g_all, h_all);
            if gain > 1e-6 && best.is_none_or(|(most, _, _)| gain > most) {
                best = Some((gain, position, bin as u8 + 1));
            }
        }
    }
    best.map(|(_, position, bin)| (position, bin))
}

/// A share of the columns, picked by hashing: no state, the same at any thread count.
fn some_columns(columns: &[u16], share: f64, salt: u64) -> Vec<u16> {
    let wanted = ((columns.len() as f64 * share).ceil() as usize).clamp(1, columns.len().max(1));
    let mut keyed: Vec<(u64, u16)> = columns
        .iter()
        .map(|column| {
            let z = (salt << 16 | u64::from(*column)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            ((z ^ (z >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 8, *column)
        })
        .collect();
    keyed.sort_unstable();
    let mut picked: Vec<u16> = keyed.into_iter().take(wanted).map(|(_, column)| column).collect();
    picked.sort_unstable();
    picked
}

fn softmax_columns(scores: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = scores.first().map_or(0, Vec::len);
    let mut shares = vec![vec![0.0; n]; scores.len()];
    for row in 0..n {
        let most = scores.iter().map(|s| s[row]).fold(f64::MIN, f64::max);
        let total: f64 = scores.iter().map(|s| (s[row] - most).exp()).sum();
        for (share, score) in shares.iter_mut().zip(scores) {
            share[row] = (score[row] - most).exp() / total;
        }
    }
    shares
}

impl Trees {
    /// Scores (unnormalised log posteriors) of one row.
    #[must_use]
    pub fn scores(&self, row: &[f32]) -> Vec<f64> {
        let bins = self.binner.bins(row);
        let mut scores = vec![0.0; self.n_classes];
        for (number, tree) in self.trees.iter().enumerate() {
            let mut node = tree[0];
            while node.column != LEAF {
                let right = u32::from(bins[usize::from(node.column)] >= node.bin);
                node = tree[(node.left + right) as usize];
            }
            scores[number % self.n_classes] += f64::from(node.value);
        }
        scores
    }
}

impl Trees {
    /// Number of classes.
    pub(crate) fn n_classes(&self) -> usize {
        self.n_classes
    }

    pub(crate) fn write(&self, out: &mut Writer) {
        out.count(self.n_classes);
        out.count(self.binner.edges.len());
        self.binner.edges.iter().for_each(|edges| out.floats(edges));
        out.count(self.trees.len());
        for tree in &self.trees {
            out.count(tree.len());
            for node in tree {
                out.0.extend(node.column.to_le_bytes());
                out.0.push(node.bin);
                out.0.extend(node.left.to_le_bytes());
                out.0.extend(node.value.to_le_bytes());
            }
        }
    }

    pub(crate) fn read(from: &mut Reader<'_>) -> Option<Trees> {
        let n_classes = from.count()?;
        let n_columns = from.length()?;
        let edges = (0..n_columns).map(|_| from.floats()).collect::<Option<Vec<_>>>()?;
        let n_trees = from.length()?;
        let trees = (0..n_trees).map(|_| read_tree(from, n_columns)).collect::<Option<Vec<_>>>()?;
        (n_classes > 0).then_some(Trees { binner: Binner { edges }, n_classes, trees })
    }
}

fn read_tree(from: &mut Reader<'_>, n_columns: usize) -> Option<Vec<Node>> {
    let n = from.length()?;
    let mut nodes = Vec::with_capacity(n);
    for index in 0..n {
        let column = u16::from_le_bytes(from.take(2)?.try_into().ok()?);
        let bin = *from.take(1)?.first()?;
        let left = u32::from_le_bytes(from.take(4)?.try_into().ok()?);
        let value = f32::from_le_bytes(from.take(4)?.try_into().ok()?);
        // A child must lie after its parent and inside the tree, or a broken file would walk in circles.
        let sound = column == LEAF
            || (usize::from(column) < n_columns && left as usize > index && (left as usize) + 1 < n);
        sound.then(|| nodes.push(Node { column, bin, left, value }))?;
    }
    (!nodes.is_empty()).then_some(nodes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_and_back() {
        let (rows, classes) = rings();
        let views: Vec<&[f32]> = rows.iter().map(Vec::as_slice).collect();
        let table = Table::new(&views, classes, vec![1.0; rows.len()], 2);
        let chosen: Vec<u32> = (0..900).collect();
        let model = table.boost(&chosen, &[0, 1, 2], &Boosting { rounds: 5, ..Boosting::USUAL });
        let mut out = Writer::default();
        model.write(&mut out);
        assert_eq!(Trees::read(&mut Reader(&out.0)), Some(model));
        assert_eq!(Trees::read(&mut Reader(&out.0[..out.0.len() - 3])), None);
    }

    fn rings() -> (Vec<Vec<f32>>, Vec<usize>) {
        let rows: Vec<Vec<f32>> = (0..900_u32)
            .map(|i| {
                let hash = |k: u32| {
                    (f64::from(i.wrapping_mul(2_654_435_761).wrapping_add(k) % 1000) / 500.0 - 1.0) as f32
                };
                vec![
                    hash(17),
                    ((i * 7919 % 1000) as f32) / 500.0 - 1.0,
                    if i % 50 == 0 { f32::NAN } else { 0.0 },
                ]
            })
            .collect();
        let classes = rows.iter().map(|r| usize::from(r[0] * r[0] + r[1] * r[1] > 0.6)).collect();
        (rows, classes)
    }

    #[test]
    fn a_ring_is_learnt() {
        let (rows, classes) = rings();
        let views: Vec<&[f32]> = rows.iter().map(Vec::as_slice).collect();
        let table = Table::new(&views, classes.clone(), vec![1.0; rows.len()], 2);
        let chosen: Vec<u32> = (0..600).collect();
        let model = table.boost(&chosen, &[0, 1, 2], &Boosting { column_share: 1.0, ..Boosting::USUAL });
        let right = (600..900)
            .filter(|i| {
                let s = model.scores(&rows[*i]);
                usize::from(s[1] > s[0]) == classes[*i]
            })
            .count();
        assert!(right > 280, "{right} of 300");
    }

    #[test]
    fn same_digits_at_any_thread_count() {
        let (rows, classes) = rings();
        let views: Vec<&[f32]> = rows.iter().map(Vec::as_slice).collect();
        let run = |threads: usize| {
            rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| {
                let table = Table::new(&views, classes.clone(), vec![1.0; rows.len()], 2);
                let chosen: Vec<u32> = (0..900).collect();
                table.boost(&chosen, &[0, 1, 2], &Boosting { rounds: 10, ..Boosting::USUAL }).scores(&rows[5])
            })
        };
        assert_eq!(run(1), run(3));
    }
}
