//! Regressions with an effect of each group: linear by least squares, logistic by Newton steps.

/// A linear fit.
pub struct Straight {
    /// Coefficients.
    pub beta: Vec<f64>,
    /// Standard deviation within groups.
    pub sd: f64,
    /// Standard deviation between groups beyond that; 0 with one group.
    pub group_sd: f64,
    /// Standard deviation, between groups, of the logarithm of the standard deviation within them.
    pub ln_sd_sd: f64,
}

/// Members of a group from which on its own standard deviation counts.
const FEWEST: f64 = 8.0;

/// Fits `y` to the terms; residual variance is parted into within and between groups by its means.
pub fn straight(terms: &[Vec<f64>], y: &[f64], groups: &[usize], n_groups: usize) -> Straight {
    let k = terms.first().map_or(0, Vec::len);
    let mut matrix = vec![vec![0.0; k]; k];
    let mut right = vec![0.0; k];
    for (x, y) in terms.iter().zip(y) {
        for i in 0..k {
            right[i] += x[i] * y;
            (0..k).for_each(|j| matrix[i][j] += x[i] * x[j]);
        }
    }
    (0..k).for_each(|i| matrix[i][i] += 1e-6);
    let beta = solve(matrix, right);
    let left: Vec<f64> = terms.iter().zip(y).map(|(x, y)| y - dot(x, &beta)).collect();
    let mut sums = vec![(0.0, 0.0); n_groups];
    for (rest, group) in left.iter().zip(groups) {
        sums[*group] = (sums[*group].0 + rest, sums[*group].1 + 1.0);
    }
    let means: Vec<f64> = sums.iter().map(|(sum, n)| sum / f64::max(*n, 1.0)).collect();
    let within: f64 = left.iter().zip(groups).map(|(rest, group)| (rest - means[*group]).powi(2)).sum();
    let filled: Vec<usize> = (0..n_groups).filter(|group| sums[*group].1 > 1.0).collect();
    let freedom = (left.len() as f64 - filled.len() as f64).max(1.0);
    let sd = (within / freedom).sqrt();
    // Moments: a group's mean varies by the variance between groups and by sd²/n.
    let between = filled.iter().map(|g| (means[*g].powi(2) - sd * sd / sums[*g].1) * sums[*g].1).sum::<f64>()
        / filled.iter().map(|g| sums[*g].1).sum::<f64>().max(1.0);
    let mut squares = vec![0.0; n_groups];
    for (rest, group) in left.iter().zip(groups) {
        squares[*group] += (rest - means[*group]).powi(2);
    }
    // The logarithm of a standard deviation of n members varies by 1/(2 (n − 1)) by itself.
    let large: Vec<usize> =
        filled.into_iter().filter(|g| sums[*g].1 >= FEWEST && squares[*g] > 0.0).collect();
    let beyond = large.iter().map(|g| {
        let n = sums[*g].1;
        (0.5 * (squares[*g] / (n - 1.0)).ln() - sd.ln()).powi(2) - 0.5 / (n - 1.0)
    });
    let ln_sd_sd = (beyond.sum::<f64>() / large.len().max(1) as f64).max(0.0).sqrt();
    Straight { beta, sd, group_sd: if n_groups > 1 { between.max(0.0).sqrt() } else { 0.0 }, ln_sd_sd }
}

/// A logistic fit.
pub struct Logistic {
    /// Coefficients.
    pub beta: Vec<f64>,
    /// Standard deviation of the effects of the groups; 0 with one group.
    pub group_sd: f64,
}

/// Rounds of Newton steps; both fits settle long before.
const ROUNDS: usize = 40;

/// Fits the odds of `yes` with a normal effect of each group (Laplace's approximation; the standard deviation of the effects
/// by their posterior second moments).
pub fn logistic(terms: &[Vec<f64>], yes: &[bool], groups: &[usize], n_groups: usize) -> Logistic {
    let k = terms.first().map_or(0, Vec::len);
    let mut beta = vec![0.0; k];
    let mut effects = vec![0.0; n_groups];
    let mut group_sd = if n_groups > 1 { 1.0 } else { 1e-6 };
    for round in 0..ROUNDS {
        let ridge = 1.0 / (group_sd * group_sd);
        let mut gradient: Vec<f64> = beta.iter().map(|b| -1e-3 * b).collect();
        let mut hessian = vec![vec![0.0; k]; k];
        let mut own_gradient: Vec<f64> = effects.iter().map(|e| -ridge * e).collect();
        let mut own_hessian = vec![ridge; n_groups];
        let mut cross = vec![vec![0.0; k]; n_groups];
        for ((x, yes), group) in terms.iter().zip(yes).zip(groups) {
            let p = 1.0 / (1.0 + (-(dot(x, &beta) + effects[*group])).exp());
            let (rest, weight) = (f64::from(u8::from(*yes)) - p, p * (1.0 - p));
            own_gradient[*group] += rest;
            own_hessian[*group] += weight;
            for i in 0..k {
                gradient[i] += rest * x[i];
                cross[*group][i] += weight * x[i];
                (0..k).for_each(|j| hessian[i][j] += weight * x[i] * x[j]);
            }
        }
        // Effects are eliminated first: each meets only its own group.
        for g in 0..n_groups {
            for i in 0..k {
                gradient[i] -= cross[g][i] * own_gradient[g] / own_hessian[g];
                (0..k).for_each(|j| hessian[i][j] -= cross[g][i] * cross[g][j] / own_hessian[g]);
            }
        }
        (0..k).for_each(|i| hessian[i][i] += 1e-3);
        let step: Vec<f64> = solve(hessian, gradient).iter().map(|s| s.clamp(-1.0, 1.0)).collect();
        for g in 0..n_groups {
            effects[g] += ((own_gradient[g] - dot(&cross[g], &step)) / own_hessian[g]).clamp(-2.0, 2.0);
        }
        beta.iter_mut().zip(&step).for_each(|(b, s)| *b += s);
        if n_groups > 1 && round > 5 {
            let second = effects.iter().zip(&own_hessian).map(|(e, h)| e * e + 1.0 / h).sum::<f64>();
            group_sd = (second / n_groups as f64).sqrt();
        }
    }
    Logistic { beta, group_sd: if n_groups > 1 { group_sd } else { 0.0 } }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Solves a small positive system by elimination.
fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Vec<f64> {
    let n = right.len();
    for pivot in 0..n {
        for row in pivot + 1..n {
            let factor = matrix[row][pivot] / matrix[pivot][pivot];
            let above = matrix[pivot].clone();
            (pivot..n).for_each(|column| matrix[row][column] -= factor * above[column]);
            right[row] -= factor * right[pivot];
        }
    }
    for row in (0..n).rev() {
        right[row] -= (row + 1..n).map(|column| matrix[row][column] * right[column]).sum::<f64>();
        right[row] /= matrix[row][row];
    }
    right
}
