//! What this project's tracer makes of a stroke: measured on rendered micrographs, one small law for each of its habits.
//!
//! Every constant of [`Tracer::MEASURED`] comes from one command, `cargo run --release -p rubstone-benches --bin weigh -- detect
//! FOLDER`, which follows known strokes through rendering and tracing and prints this table anew.

use crate::beside::Facts;
use finish::models::normal;
use rand::RngExt;
use rand_pcg::Pcg64;

/// All habits of the tracer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tracer {
    /// Whether a stroke is found at all.
    pub finding: Finding,
    /// How much of either end is lost.
    pub trimming: Trimming,
    /// How often a stroke comes as two traces.
    pub breaking: Breaking,
    /// How far a trace strays from its stroke.
    pub wandering: Wandering,
    /// What width is read.
    pub widths: Widths,
    /// Traces that belong to no stroke.
    pub strays: Strays,
}

/// Log odds that a stroke is found: linear in what is known of it, with an effect of the whole picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    /// At 300 px of length, a width of twice the blur, across the light, alone.
    pub constant: f64,
    /// For each e-fold of the length, and of its square.
    pub per_log_length: [f64; 2],
    /// For each e-fold of the width over the blur, and of its square.
    pub per_log_width: [f64; 2],
    /// For a stroke along a one-sided light; falls off as the fourth power of the cosine.
    pub along_light: f64,
    /// For a stroke with a wider one beside it all along.
    pub wider_beside: f64,
    /// The same with a narrower one.
    pub narrower_beside: f64,
    /// Standard deviation of the effect of a picture.
    pub picture_sd: f64,
}

/// Length lost at an end, whether it lies in the picture or runs out of it: a little ([`LONG_LOSS_PX`] or less), or much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trimming {
    /// Log odds that much is lost at 300 px of length and a width of twice the blur.
    pub constant: f64,
    /// For each e-fold of the length.
    pub per_log_length: f64,
    /// For each e-fold of the width over the blur, and of its square.
    pub per_log_width: [f64; 2],
    /// For a stroke with a wider one beside it all along.
    pub wider_beside: f64,
    /// Standard deviation of the effect of a picture.
    pub picture_sd: f64,
    /// A little is [`LONG_LOSS_PX`] times an even random number to this power.
    pub little: f64,
    /// The logarithm of much goes from that of [`LONG_LOSS_PX`] to that of the whole length with an even random number to this
    /// power.
    pub much: f64,
    /// Shortest length that is left of a found stroke, px.
    pub shortest_px: f64,
}

/// Loss at an end beyond which it counts as much, px.
pub const LONG_LOSS_PX: f64 = 30.0;

/// Breaks of found strokes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Breaking {
    /// Breaks for each 300 px of a found stroke.
    pub per_300_px: f64,
    /// Median gap, px, and standard deviation of its logarithm.
    pub gap_px: [f64; 2],
}

/// Distance of a trace's axis from its stroke, in the slope, bow and cubic of thirteen even points (unit polynomials).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wandering {
    /// Log of the root sum of squares of the three, px: mean at 300 px of length and a width of twice the blur.
    pub constant: f64,
    /// For each e-fold of the length.
    pub per_log_length: f64,
    /// For each e-fold of the width over the blur.
    pub per_log_width: f64,
    /// Standard deviation within a picture.
    pub sd: f64,
    /// Standard deviation of the effect of a picture.
    pub picture_sd: f64,
    /// Log odds that a trace goes astray (changes over to another line) at 300 px, and for each e-fold of the length.
    pub astray: [f64; 2],
    /// Log for those: mean at 300 px, for each e-fold of the length, and standard deviation.
    pub astray_ln: [f64; 3],
    /// Share of slope, bow and cubic in the square, of usual traces and of those that go astray.
    pub shares: [[f64; 3]; 2],
    /// Log of the scatter that is left, px: at 300 px, for each e-fold of length, of width and of the above, and its
    /// standard deviation.
    pub scatter: [f64; 5],
    /// Standard deviation of the effect of a picture on the scatter.
    pub scatter_picture_sd: f64,
}

/// Log of the width read, px, as a cubic in the log of the true width over 2 px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Widths {
    /// Coefficients from the constant up.
    pub ln_px: [f64; 4],
    /// Standard deviation within a picture.
    pub sd: f64,
    /// Standard deviation, between pictures, of the logarithm of that.
    pub ln_sd_sd: f64,
    /// Standard deviation of the effect of a picture.
    pub picture_sd: f64,
}

/// Traces that lie on no stroke for most of their length: lines of the stone, and paths pieced together from several strokes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strays {
    /// Lines of the stone in a picture, and the standard deviation of the logarithm of that number between pictures.
    pub stone: [f64; 2],
    /// Pieced together, for each found stroke beyond the tenth.
    pub pieced_per_found: f64,
    /// Median length of each kind, px, and standard deviation of its logarithm.
    pub length_px: [[f64; 2]; 2],
    /// Bow and cubic of each kind over its length, standard deviation of the middle half, in the amounts of [`Wandering`].
    pub bent: [[f64; 2]; 2],
    /// Scatter over length of each kind, median.
    pub scatter: [f64; 2],
    /// By how much those pieced together leave the direction of a stroke, degrees (standard deviation).
    pub off_deg: f64,
    /// Width read, px, and the standard deviation of its logarithm.
    pub width_px: [f64; 2],
}

impl Tracer {
    /// Measured on 242 rendered captures of 3 mm at 3.7 µm/px with 29,944 strokes, six stones, two instruments, default settings
    /// of the tracer, 30 November 2026.
    pub const MEASURED: Tracer = Tracer {
        finding: Finding {
            constant: 2.234,
            per_log_length: [1.826, -0.467],
            per_log_width: [2.754, -1.313],
            along_light: -3.452,
            wider_beside: -2.481,
            narrower_beside: -0.799,
            picture_sd: 0.651,
        },
        trimming: Trimming {
            constant: -1.438,
            per_log_length: 0.923,
            per_log_width: [-0.783, 0.199],
            wider_beside: 0.732,
            picture_sd: 0.440,
            little: 1.787,
            much: 1.328,
            shortest_px: 71.000,
        },
        breaking: Breaking { per_300_px: 0.015, gap_px: [109.000, 0.784] },
        wandering: Wandering {
            constant: -0.369,
            per_log_length: 0.041,
            per_log_width: -0.159,
            sd: 0.750,
            picture_sd: 0.240,
            astray: [-1.790, 0.750],
            astray_ln: [2.238, 0.585, 0.783],
            shares: [[0.360, 0.358, 0.282], [0.513, 0.338, 0.149]],
            scatter: [-1.709, 0.998, -0.124, 0.530, 0.581],
            scatter_picture_sd: 0.100,
        },
        widths: Widths {
            ln_px: [0.922, 0.204, 0.221, -0.011],
            sd: 0.206,
            ln_sd_sd: 0.193,
            picture_sd: 0.116,
        },
        strays: Strays {
            stone: [1.305, 0.265],
            pieced_per_found: 0.102,
            length_px: [[143.796, 0.560], [487.393, 0.574]],
            bent: [[0.121, 0.009], [0.060, 0.011]],
            scatter: [0.001, 0.003],
            off_deg: 0.453,
            width_px: [3.325, 0.330],
        },
    };
}

/// Draws of what is lost, for enough of a stroke to be left (ours).
const TRIES: usize = 8;

/// What one picture does to all of its strokes, in standard deviations: half of the variance belongs to the object (its
/// stone, depth and instrument), half to the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effects {
    /// On finding.
    pub finding: f64,
    /// On trimming.
    pub trimming: f64,
    /// On wandering.
    pub wandering: f64,
    /// On the scatter about the shape of a trace.
    pub scatter: f64,
    /// On widths.
    pub widths: f64,
    /// On how much widths scatter.
    pub width_scatter: f64,
    /// On the number of strays.
    pub strays: f64,
}

impl Effects {
    /// Independent effects of this standard deviation.
    pub fn draw(sd: f64, rng: &mut Pcg64) -> Effects {
        let [finding, trimming, wandering, scatter, widths, width_scatter, strays] =
            [sd; 7].map(|sd| sd * normal(rng));
        Effects { finding, trimming, wandering, scatter, widths, width_scatter, strays }
    }

    /// The effects of one picture of an object with these.
    pub fn of_picture(&self, rng: &mut Pcg64) -> Effects {
        let own = Effects::draw(1.0, rng);
        let half = |object: f64, picture: f64| (object + picture) * std::f64::consts::FRAC_1_SQRT_2;
        Effects {
            finding: half(self.finding, own.finding),
            trimming: half(self.trimming, own.trimming),
            wandering: half(self.wandering, own.wandering),
            scatter: half(self.scatter, own.scatter),
            widths: half(self.widths, own.widths),
            width_scatter: half(self.width_scatter, own.width_scatter),
            strays: half(self.strays, own.strays),
        }
    }
}

/// How far a trace lies off its stroke, px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Off {
    /// Coefficients of the unit polynomials of degree one to three.
    pub shape: [f64; 3],
    /// Scatter about them.
    pub scatter: f64,
}

impl Finding {
    /// Chance that a stroke is found; `light` scales the loss along the light.
    #[must_use]
    pub fn chance(&self, facts: &Facts, light: f64, effect: f64) -> f64 {
        let (l, w) = (facts.ln_length, facts.ln_width);
        let odds = self.constant
            + l * (self.per_log_length[0] + l * self.per_log_length[1])
            + w * (self.per_log_width[0] + w * self.per_log_width[1])
            + self.along_light * light * facts.along_light
            + self.wider_beside * facts.wider_beside
            + self.narrower_beside * facts.narrower_beside
            + self.picture_sd * effect;
        1.0 / (1.0 + (-odds).exp())
    }
}

impl Tracer {
    /// The stretches of a found stroke that come out as traces, px from its beginning.
    pub fn stretches(&self, facts: &Facts, effect: f64, rng: &mut Pcg64) -> Vec<[f64; 2]> {
        let t = &self.trimming;
        let length = facts.length_px;
        let w = facts.ln_width;
        let odds = t.constant
            + t.per_log_length * facts.ln_length
            + w * (t.per_log_width[0] + w * t.per_log_width[1])
            + t.wider_beside * facts.wider_beside
            + t.picture_sd * effect;
        let much = 1.0 / (1.0 + (-odds).exp());
        let mut lost = || {
            let (kind, u) = (rng.random::<f64>(), rng.random::<f64>());
            if kind < much {
                LONG_LOSS_PX * (length / LONG_LOSS_PX).max(1.0).powf(u.powf(t.much))
            } else {
                LONG_LOSS_PX * u.powf(t.little)
            }
        };
        let half = 0.5 * t.shortest_px.min(length);
        let (mut from, mut to) = (lost(), length - lost());
        for _ in 0..TRIES {
            if to - from >= 2.0 * half {
                break;
            }
            (from, to) = (lost(), length - lost());
        }
        if to - from < 2.0 * half {
            // What is found has the shortest length at least; where it lies follows what was lost.
            let middle = (0.5 * (from + to)).clamp(half, length - half);
            (from, to) = (middle - half, middle + half);
        }
        let b = &self.breaking;
        if rng.random::<f64>() < b.per_300_px * (to - from) / 300.0 {
            let gap = b.gap_px[0] * (b.gap_px[1] * normal(rng)).exp();
            let room = to - from - gap - 2.0 * t.shortest_px;
            if room > 0.0 {
                let at = from + t.shortest_px + room * rng.random::<f64>();
                return vec![[from, at], [at + gap, to]];
            }
        }
        vec![[from, to]]
    }

    /// How far a trace of this length lies off its stroke.
    pub fn off(&self, length_px: f64, facts: &Facts, effects: &Effects, rng: &mut Pcg64) -> Off {
        let w = &self.wandering;
        let l = (length_px / 300.0).ln();
        let odds = w.astray[0] + w.astray[1] * l;
        let astray = rng.random::<f64>() < 1.0 / (1.0 + (-odds).exp());
        let usual = w.constant
            + w.per_log_length * l
            + w.per_log_width * facts.ln_width
            + w.picture_sd * effects.wandering;
        let ln = if astray {
            w.astray_ln[0] + w.astray_ln[1] * l + w.astray_ln[2] * normal(rng)
        } else {
            usual + w.sd * normal(rng)
        };
        let sides = w.shares[usize::from(astray)].map(|share| share.sqrt() * normal(rng));
        let size = sides.iter().map(|side| side * side).sum::<f64>().sqrt().max(1e-9);
        let s = &w.scatter;
        let mean = s[0] + s[1] * l + s[2] * facts.ln_width + s[3] * ln;
        let scatter = mean + w.scatter_picture_sd * effects.scatter + s[4] * normal(rng);
        Off { shape: sides.map(|side| side / size * ln.exp()), scatter: scatter.exp() }
    }

    /// The width read of a stroke, px.
    pub fn width_px(&self, facts: &Facts, blur_px: f64, effects: &Effects, rng: &mut Pcg64) -> f64 {
        let (c, w) = (&self.widths.ln_px, facts.ln_width + blur_px.ln());
        let ln = c[0] + w * (c[1] + w * (c[2] + w * c[3]));
        let sd = self.widths.sd * (self.widths.ln_sd_sd * effects.width_scatter).exp();
        (ln + sd * normal(rng) + self.widths.picture_sd * effects.widths).exp()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    fn facts(length_px: f64, width_over_blur: f64) -> Facts {
        Facts {
            length_px,
            ln_length: (length_px / 300.0).ln(),
            ln_width: (width_over_blur / 2.0).ln(),
            along_light: 0.0,
            wider_beside: 0.0,
            narrower_beside: 0.0,
        }
    }

    #[test]
    fn longer_wider_across_the_light_and_alone_is_found_more_often() {
        let finding = Tracer::MEASURED.finding;
        let usual = facts(200.0, 1.5);
        let chance = |facts: Facts| finding.chance(&facts, 1.0, 0.0);
        let base = chance(usual);
        assert!(base > 0.0 && base < 1.0);
        assert!(chance(facts(400.0, 1.5)) > base);
        assert!(chance(facts(200.0, 2.5)) > base);
        assert!(chance(Facts { along_light: 1.0, ..usual }) < base);
        assert!(
            chance(Facts { wider_beside: 1.0, ..usual }) < chance(Facts { narrower_beside: 1.0, ..usual })
        );
    }

    #[test]
    fn stretches_lie_in_order_on_their_stroke() {
        let mut rng = Pcg64::seed_from_u64(4);
        for k in 0..2000 {
            let facts = facts(10.0 + f64::from(k), 1.0 + 0.002 * f64::from(k));
            let mut from = -1e-9;
            for [start, end] in Tracer::MEASURED.stretches(&facts, normal(&mut rng), &mut rng) {
                assert!(
                    start >= from && end > start && end <= facts.length_px + 1e-9,
                    "{start} {end} {facts:?}"
                );
                from = end;
            }
        }
    }

    #[test]
    fn effects_of_pictures_keep_the_variance_of_the_object() {
        let mut rng = Pcg64::seed_from_u64(5);
        let n = 20_000;
        let mut squares = 0.0;
        for _ in 0..n {
            squares += Effects::draw(1.0, &mut rng).of_picture(&mut rng).finding.powi(2);
        }
        assert!((squares / f64::from(n) - 1.0).abs() < 0.05);
    }
}
