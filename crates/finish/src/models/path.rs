//! A path through a point, and the piece of it a field shows.

use std::f64::consts::FRAC_PI_2;

/// A field of view centred on the origin, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

impl Window {
    /// Area, mm².
    #[must_use]
    pub fn area_mm2(self) -> f64 {
        self.width_mm * self.height_mm
    }

    fn holds(self, p: [f64; 2]) -> bool {
        p[0].abs() <= 0.5 * self.width_mm && p[1].abs() <= 0.5 * self.height_mm
    }

    /// The point of the window nearest to this one.
    fn nearest(self, p: [f64; 2]) -> [f64; 2] {
        let half = [0.5 * self.width_mm, 0.5 * self.height_mm];
        [p[0].clamp(-half[0], half[0]), p[1].clamp(-half[1], half[1])]
    }

    /// The part of the step from `inside` to `outside` that lies inside, 0 to 1.
    fn share_inside(self, inside: [f64; 2], outside: [f64; 2]) -> f64 {
        let half = [0.5 * self.width_mm, 0.5 * self.height_mm];
        let mut share: f64 = 1.0;
        for axis in 0..2 {
            let step = outside[axis] - inside[axis];
            if outside[axis].abs() > half[axis] && step != 0.0 {
                share = share.min((half[axis] * step.signum() - inside[axis]) / step);
            }
        }
        share.clamp(0.0, 1.0)
    }
}

/// The shape of a path about the point it was asked to pass through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Curve {
    /// An arc whose curvature changes evenly along it.
    Bend {
        /// Curvature at the point, 1/mm, positive counter-clockwise.
        per_mm: f64,
        /// Change of curvature along the path, 1/mm².
        change_per_mm2: f64,
    },
    /// A circle carried along by a drift.
    Loop {
        /// Radius of the circle, mm.
        radius_mm: f64,
        /// Phase at the point, radians.
        phase_rad: f64,
        /// Drift for each radian of the loop, mm.
        drift_mm: [f64; 2],
    },
    /// Half a swing to and fro with a feed across it; the phase is clipped to the reversals.
    Swing {
        /// Half the length of the stroke, mm.
        amplitude_mm: f64,
        /// Phase at the point, between −π/2 and π/2.
        phase_rad: f64,
        /// Feed across the stroke for each radian, mm.
        feed_mm: f64,
    },
}

/// A path through a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Path {
    /// The point, mm.
    pub at_mm: [f64; 2],
    /// Heading there, radians counter-clockwise as seen.
    pub heading_rad: f64,
    /// Length of path before the point, mm.
    pub behind_mm: f64,
    /// Length of path after the point, mm.
    pub ahead_mm: f64,
    /// Its shape.
    pub curve: Curve,
}

/// The piece of a path around its point that lies in a window.
#[derive(Debug, Clone, PartialEq)]
pub struct Visible {
    /// Points along the piece, mm, window-centred, y upwards.
    pub points_mm: Vec<[f64; 2]>,
    /// Whether the first and the last point are true ends of the path.
    pub ends_inside: [bool; 2],
    /// Length of the piece, mm.
    pub length_mm: f64,
}

/// No single piece is drawn with more points to one side; longer loops are cut there and count as leaving the field.
const MOST_STEPS: usize = 4000;

impl Path {
    /// The piece seen in `window`, in steps of at most `step_mm` and at most `step_rad` of turning.
    #[must_use]
    pub fn visible(&self, window: Window, step_mm: f64, step_rad: f64) -> Option<Visible> {
        let walk = Walk { window, step_mm, step_rad };
        self.visible_up_to(f64::INFINITY, &walk, &mut Vec::new())
    }

    /// The same; `None` as well where the piece is longer than `longest_mm`, which is found before all of it is walked.
    /// `room` is overwritten: most paths that are tried are not kept, and need no list of their own.
    pub(super) fn visible_up_to(
        &self,
        longest_mm: f64,
        walk: &Walk,
        room: &mut Vec<[f64; 2]>,
    ) -> Option<Visible> {
        if !walk.window.holds(self.at_mm) || self.surely_visible_mm(walk.window) > longest_mm {
            return None;
        }
        room.clear();
        let before = walk.along(self, -1.0, self.behind_mm, longest_mm, room)?;
        room.reverse();
        room.push(self.at_mm);
        let after = walk.along(self, 1.0, self.ahead_mm, longest_mm - before.length_mm, room)?;
        Some(Visible {
            points_mm: room.clone(),
            ends_inside: [before.ended, after.ended],
            length_mm: before.length_mm + after.length_mm,
        })
    }

    /// Length that is visible whatever way the path runs: no border is nearer. Nothing for a swing, which may reverse before.
    fn surely_visible_mm(&self, window: Window) -> f64 {
        if matches!(self.curve, Curve::Swing { .. }) {
            return 0.0;
        }
        let [x, y] = self.at_mm;
        let border_mm = (0.5 * window.width_mm - x.abs()).min(0.5 * window.height_mm - y.abs());
        self.behind_mm.min(border_mm) + self.ahead_mm.min(border_mm)
    }
}

/// How a path is walked.
pub(super) struct Walk {
    pub window: Window,
    /// Longest step, mm.
    pub step_mm: f64,
    /// Most turning in a step, radians.
    pub step_rad: f64,
}

/// What was walked to one side.
struct Walked {
    length_mm: f64,
    /// Whether the true end was reached.
    ended: bool,
}

impl Walk {
    /// Adds points from the path's own point outwards to one side; `None` if the visible part is longer than `longest_mm`.
    fn along(
        &self,
        path: &Path,
        side: f64,
        length_mm: f64,
        longest_mm: f64,
        points_mm: &mut Vec<[f64; 2]>,
    ) -> Option<Walked> {
        let (mut here, mut walked) = (path.at_mm, 0.0);
        let mut walker = Walker::new(path, side, self.step_mm, self.step_rad);
        let mut ended = false;
        for _ in 0..MOST_STEPS {
            if walked > longest_mm {
                return None;
            }
            if length_mm - walked <= 1e-9 {
                ended = true;
                break;
            }
            let before = walker;
            let Some(mut next) = walker.step(length_mm - walked) else {
                ended = true;
                break;
            };
            let inside = self.window.holds(next);
            if !inside {
                next = self.at_border(before, here, next);
            }
            walked += distance(here, next);
            here = next;
            points_mm.push(next);
            if !inside {
                break;
            }
        }
        (walked <= longest_mm).then_some(Walked { length_mm: walked, ended })
    }

    /// Where the step from `inside` to `outside` leaves the window, on the path itself and not on its chord.
    fn at_border(&self, mut walker: Walker<'_>, inside: [f64; 2], outside: [f64; 2]) -> [f64; 2] {
        let share = self.window.share_inside(inside, outside);
        let on_chord = [0, 1].map(|axis| inside[axis] + share * (outside[axis] - inside[axis]));
        // A swing is straight but for its feed, and its steps are steps of the phase.
        if matches!(walker.path.curve, Curve::Swing { .. }) {
            return on_chord;
        }
        let on_path = walker.step(share * distance(inside, outside)).unwrap_or(on_chord);
        self.window.nearest(on_path)
    }
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    // Far from overflow; `hypot` was a seventh of the time of a simulation.
    ((b[0] - a[0]).powi(2) + (b[1] - a[1]).powi(2)).sqrt()
}

/// Walks a path step by step to one side.
#[derive(Clone, Copy)]
struct Walker<'a> {
    path: &'a Path,
    side: f64,
    step_mm: f64,
    step_rad: f64,
    here: [f64; 2],
    heading: f64,
    along: f64,
    /// What every step of a loop or a swing needs again: sine and cosine of the phase at the path's own point,
    at_phase: (f64, f64),
    /// of the heading of a swing,
    ahead: (f64, f64),
    /// and the speed of a loop, mm per radian.
    speed: f64,
}

impl<'a> Walker<'a> {
    fn new(path: &'a Path, side: f64, step_mm: f64, step_rad: f64) -> Self {
        let (here, heading, unused) = (path.at_mm, path.heading_rad, (0.0, 0.0));
        let (at_phase, ahead, speed) = match path.curve {
            Curve::Bend { .. } => (unused, unused, 0.0),
            Curve::Loop { radius_mm, phase_rad, drift_mm } => {
                (phase_rad.sin_cos(), unused, radius_mm + drift_mm[0].hypot(drift_mm[1]))
            }
            Curve::Swing { phase_rad, .. } => (phase_rad.sin_cos(), heading.sin_cos(), 0.0),
        };
        Self { path, side, step_mm, step_rad, here, heading, along: 0.0, at_phase, ahead, speed }
    }

    /// The next point; `None` where a swing reverses.
    fn step(&mut self, left_mm: f64) -> Option<[f64; 2]> {
        match self.path.curve {
            Curve::Bend { per_mm, change_per_mm2 } => {
                let bend = per_mm + change_per_mm2 * self.along;
                let step = self.step_mm.min(self.step_rad / bend.abs().max(1e-9)).min(left_mm);
                let middle = per_mm + change_per_mm2 * (self.along + 0.5 * self.side * step);
                let turn = self.side * middle * step;
                let (sin, cos) = (self.heading + 0.5 * turn).sin_cos();
                self.here = [self.here[0] + self.side * step * cos, self.here[1] + self.side * step * sin];
                self.heading += turn;
                self.along += self.side * step;
                Some(self.here)
            }
            Curve::Loop { radius_mm, phase_rad, drift_mm } => {
                let step = self.step_rad.min(self.step_mm.min(left_mm) / self.speed.max(1e-9));
                self.along += self.side * step;
                let (now_sin, now_cos) = (phase_rad + self.along).sin_cos();
                let (at_sin, at_cos) = self.at_phase;
                let at = self.path.at_mm;
                Some([
                    at[0] + radius_mm * (now_cos - at_cos) + drift_mm[0] * self.along,
                    at[1] + radius_mm * (now_sin - at_sin) + drift_mm[1] * self.along,
                ])
            }
            Curve::Swing { amplitude_mm, phase_rad, feed_mm } => {
                // Steps in phase shrink where the swing is fast; at a reversal the stroke ends.
                let room = FRAC_PI_2 - self.side * (phase_rad + self.along);
                if room <= 1e-6 {
                    return None;
                }
                let step = (self.step_mm / amplitude_mm).min(room);
                self.along += self.side * step;
                let across = feed_mm * self.along;
                let forth = amplitude_mm * ((phase_rad + self.along).sin() - self.at_phase.0);
                let (sin, cos) = self.ahead;
                let at = self.path.at_mm;
                Some([at[0] + forth * cos - across * sin, at[1] + forth * sin + across * cos])
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: Window = Window { width_mm: 4.0, height_mm: 3.0 };

    #[test]
    fn a_straight_path_is_cut_at_the_window() {
        let curve = Curve::Bend { per_mm: 0.0, change_per_mm2: 0.0 };
        let path = Path { at_mm: [0.5, 0.0], heading_rad: 0.0, behind_mm: 1.0, ahead_mm: 100.0, curve };
        let seen = path.visible(WINDOW, 0.25, 0.2).unwrap();
        assert!((seen.length_mm - 2.5).abs() < 1e-9, "{}", seen.length_mm);
        assert_eq!(seen.ends_inside, [true, false]);
        assert!((seen.points_mm[0][0] + 0.5).abs() < 1e-9);
    }

    #[test]
    fn a_bend_keeps_its_radius() {
        let curve = Curve::Bend { per_mm: 0.5, change_per_mm2: 0.0 };
        let path = Path { at_mm: [0.0, -1.0], heading_rad: 0.0, behind_mm: 1.0, ahead_mm: 1.0, curve };
        let seen = path.visible(WINDOW, 0.01, 0.2).unwrap();
        for p in &seen.points_mm {
            let radius = p[0].hypot(p[1] - 1.0);
            assert!((radius - 2.0).abs() < 1e-4, "{radius}");
        }
    }

    #[test]
    fn a_swing_ends_at_its_reversals() {
        let curve = Curve::Swing { amplitude_mm: 1.0, phase_rad: 0.3, feed_mm: 0.0 };
        let at_mm = [0.3_f64.sin(), 0.0];
        let path = Path { at_mm, heading_rad: 0.0, behind_mm: 9.0, ahead_mm: 9.0, curve };
        let seen = path.visible(WINDOW, 0.05, 0.2).unwrap();
        assert_eq!(seen.ends_inside, [true, true]);
        assert!((seen.length_mm - 2.0).abs() < 1e-3, "{}", seen.length_mm);
    }
}
