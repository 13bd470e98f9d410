//! The whole way from a grey plane to traces.

use picture::{Distortion, Grey, Light, Quality, distort, undistort};
use rayon::prelude::*;

use crate::background::{Cleared, clear};
use crate::classify::{log_odds, log10_nfa};
use crate::course::{Points, ends_within, length, within};
use crate::decoys::decoys;
use crate::duplicates::{single, strength, without_duplicates};
use crate::features::{self, Candidate, N_FEATURES, smooth_axis};
use crate::fit::{self, Fit};
use crate::flanks::merged;
use crate::joining::joined;
use crate::lattice::BLOCK_PX;
use crate::level::{Level, Placed, View};
use crate::light::Lit;
use crate::plane::Plane;
use crate::recentre::{Bank, Centred, SHIFTS, TIGHT_SHIFTS};
use crate::section::{self, Axis};
use crate::splitting::supported;
use crate::suspects::suspect;
use crate::tracking;
use crate::types::{Ends, Trace};
use crate::{Found, HiddenSector, Settings, TraceError};

/// Smallest side of a picture that can hold a trace, px: one segment of the lattice and its flanks.
pub const LEAST_SIDE_PX: usize = 48;
/// Shortest trace reported, px.
const LEAST_LENGTH_PX: f64 = 36.0;
/// Least evidence beyond chance of a path worth measuring, null spreads: of true length on rendered stone 0.5 % lies below.
const LEAST_STRENGTH: f32 = 12.0;
/// Strongest paths from which the side of the light is read.
const VOTING: usize = 60;
/// Shift from which a path has left its own groove for another: broad grooves lie less far from their brighter side, px.
const LEFT_PX: f64 = 1.5;
/// Scratches within this angle of one-sided light throw no shadow: contrast goes with the sine, a quarter here.
const HIDDEN_HALF_WIDTH_DEG: f64 = 15.0;

/// Finds the traces on a picture.
///
/// `quality` is the picture's judgement by `picture::judge`; a motion-blurred picture yields no traces but the reason. `watch`
/// is told the share done, 0 to 1, and stops the work by answering `false`. Same picture and settings, same traces, at
/// any number of threads. Traces come strongest first, in pixel coordinates of the picture.
///
/// # Errors
/// If the picture is too small to hold a trace, or `watch` asked to stop.
///
/// # Source
/// Ours: see the modules of this crate; a contrario acceptance after Desolneux, Moisan and Morel (2000).
pub fn find(
    grey: &Grey,
    quality: &Quality,
    settings: &Settings,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Found, TraceError> {
    let (width, height) = (grey.width(), grey.height());
    if width.min(height) < LEAST_SIDE_PX {
        return Err(TraceError::TooSmall { width_px: width, height_px: height, needed_px: LEAST_SIDE_PX });
    }
    let hidden = match settings.light {
        Light::Azimuth(axis) => Some(HiddenSector { axis, half_width_deg: HIDDEN_HALF_WIDTH_DEG }),
        Light::Ring | Light::Coaxial | Light::Unknown => None,
    };
    let nothing = |noise_sigma: f32| Found {
        traces: Vec::new(),
        refused: None,
        noise_sigma,
        localisation_px: 0.0,
        waviness_px: 0.0,
        hidden,
    };
    if let Some(motion) = &quality.motion {
        let mut found = nothing(clear(width, height, grey.values()).noise_sigma);
        found.refused = Some(format!(
            "The picture is drawn out by {:.0} px of motion along {:.0}°, which looks like parallel scratches: no traces are reported.",
            motion.length_px,
            motion.direction.degrees()
        ));
        return Ok(found);
    }
    let looked = look(grey, settings.light, settings.lens.as_ref(), &|done| watch(0.02 + 0.96 * done))
        .ok_or(TraceError::Stopped)?;
    let mut found = nothing(looked.noise_sigma);
    let area_mpx = (width * height) as f64 / 1e6;
    let log10_limit = settings.expected_on(width, height).max(1e-12).log10();
    let mut accepted: Vec<(&Seen, f64)> = looked
        .seen
        .iter()
        .map(|seen| (seen, log10_nfa(log_odds(seen.level, &seen.features), area_mpx)))
        .filter(|(_, nfa)| *nfa <= log10_limit)
        .collect();
    accepted.sort_by(|(a, nfa_a), (b, nfa_b)| {
        a.is_finer_known().cmp(&b.is_finer_known()).then_with(|| nfa_a.total_cmp(nfa_b))
    });
    let alone = single(accepted.iter().map(|(seen, _)| seen.placed.line()), width, height);
    let mut accepted: Vec<_> =
        accepted.into_iter().zip(alone).filter_map(|(accepted, alone)| alone.then_some(accepted)).collect();
    accepted.sort_by(|(_, a), (_, b)| a.total_cmp(b));
    found.localisation_px = (BLOCK_PX as f64).sqrt()
        * features::median(accepted.iter().map(|(seen, _)| seen.placed.place_noise_px));
    let wandering = |p: &Placed| (p.residual_px.powi(2) - p.place_noise_px.powi(2)).max(0.0).sqrt();
    found.waviness_px = features::median(accepted.iter().map(|(seen, _)| wandering(&seen.placed)));
    found.traces = accepted
        .iter()
        .map(|(Seen { placed, features, .. }, nfa)| Trace {
            suspect: suspect(placed, features, quality, f64::from(looked.noise_sigma)),
            ..trace(placed, *nfa, width as f64, height as f64)
        })
        .collect();
    for (id, trace) in (1..).zip(&mut found.traces) {
        trace.id = id;
    }
    Ok(found)
}

/// A candidate on the picture, and what tells it from a line of the stone at the level where it was seen.
pub(crate) struct Seen {
    pub level: Level,
    pub placed: Placed,
    pub features: [f64; N_FEATURES],
}

impl Seen {
    /// Whether full resolution knows the groove's place and ends better, if it was seen there: at half resolution they are known
    /// half as well, and only broad grooves are known better.
    fn is_finer_known(&self) -> bool {
        self.level == Level::Half && self.placed.is_narrow()
    }
}

/// All candidates on a picture.
pub(crate) struct Looked {
    /// Those of each level together, strongest first; some lie on one another.
    pub seen: Vec<Seen>,
    /// Spread of the grey values about their local background, grey units.
    pub noise_sigma: f32,
}

/// Share of the work that the level of full resolution takes.
const FULL_SHARE: f64 = 0.8;

/// Looks for candidates at every level; `None` when `watch` (0 to 1) asked to stop.
pub(crate) fn look(
    grey: &Grey,
    light: Light,
    lens: Option<&Distortion>,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Option<Looked> {
    let mut looked = Looked { seen: Vec::new(), noise_sigma: 0.0 };
    for view in View::all(grey, lens) {
        let level = view.level;
        let (from, share) = match level {
            Level::Full => (0.0, FULL_SHARE),
            Level::Half => (FULL_SHARE, 1.0 - FULL_SHARE),
        };
        looked.noise_sigma = view.noise_sigma;
        let candidates =
            candidates(&view.cleared, light, view.lens.as_ref(), &|done| watch(from + share * done))?;
        let features = features_of(&candidates, &view.cleared);
        looked.seen.extend(candidates.iter().zip(features).map(|(candidate, features)| Seen {
            level,
            placed: view.placed(candidate),
            features,
        }));
    }
    Some(looked)
}

/// Everything at one level that might be a trace, joined and fitted, strongest first; growing may have laid some on one another.
/// `None` when `watch` asked to stop.
fn candidates(
    cleared: &Cleared,
    light: Light,
    lens: Option<&Distortion>,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Option<Vec<Candidate>> {
    let residual = &cleared.residual;
    let paths = tracking::paths(residual, &|done| watch(0.7 * done))?;
    let mut bank = Bank::new(residual);
    let firsts: Vec<Centred> = paths
        .iter()
        .take(VOTING)
        .collect::<Vec<_>>()
        .into_par_iter()
        .filter_map(|path| Some(bank.centre(residual, &path.points_px, SHIFTS)?.0))
        .collect();
    bank.light(Lit::of(&firsts, light));
    let parts = |path: &Centred| supported(path, bank.lit());
    let (wide, tight): (Vec<Vec<Centred>>, Vec<Vec<Centred>>) = paths
        .par_iter()
        .map(|path| {
            let centre = |reach: i32| bank.centre(residual, &path.points_px, reach);
            let Some((wide, moved_px)) = centre(SHIFTS) else { return (Vec::new(), Vec::new()) };
            // Where a path has left for a stronger groove beside it, its own is looked for closer by.
            let tight = if moved_px > LEFT_PX { centre(TIGHT_SHIFTS) } else { None };
            (parts(&wide), tight.map_or_else(Vec::new, |(tight, _)| parts(&tight)))
        })
        .unzip();
    let (wide, tight) = (wide.concat(), tight.concat());
    if !watch(0.8) {
        return None;
    }
    let single = without_duplicates([wide, tight], bank.lit(), residual.width, residual.height);
    let mut whole = merged(joined(single, residual, &bank), residual, &bank);
    whole.retain(|path| strength(path) > LEAST_STRENGTH);
    let mut candidates: Vec<Candidate> =
        whole.into_par_iter().filter_map(|centred| candidate(cleared, &bank, centred, lens)).collect();
    candidates.sort_by(|a, b| {
        let place = |c: &Candidate| c.points_px.first().copied().unwrap_or_default();
        b.strength()
            .total_cmp(&a.strength())
            .then_with(|| place(a)[0].total_cmp(&place(b)[0]))
            .then_with(|| place(a)[1].total_cmp(&place(b)[1]))
    });
    watch(0.95).then_some(candidates)
}

/// Measures one centred path; `None` where it is too short to be a trace.
pub(crate) fn candidate(
    cleared: &Cleared,
    bank: &Bank,
    centred: Centred,
    lens: Option<&Distortion>,
) -> Option<Candidate> {
    let residual = &cleared.residual;
    let axis = section::measure(
        residual,
        &centred.points_px,
        centred.section,
        bank.lit().excluded(&centred.points_px),
    )?;
    let fit = arc_of(residual, &axis, lens)?;
    let points_px = within(&smooth_axis(&axis), residual.width as f64, residual.height as f64);
    let length_px = length(&points_px);
    let decoys = decoys(residual, bank, &points_px, centred.section);
    // Texture that runs along the path makes neighbouring blocks err alike; copies aside show it better than the few
    // residuals of a short trace.
    let fit = fit.inflated(decoys.robust_spread.powi(2));
    (length_px >= LEAST_LENGTH_PX).then_some(Candidate { centred, axis, fit, decoys, points_px, length_px })
}

/// Rounds in which the blocks are measured about the arc itself.
const ARC_ROUNDS: usize = 3;
/// A groove that wanders off its arc by more than this many template widths is not measured about it.
const WANDERS: f64 = 1.0;

/// The arc of a measured axis, in the frame of a straight lens. Where the groove is an arc, its blocks are measured about
/// that arc rather than about a path that has followed the noise.
fn arc_of(residual: &Plane, axis: &Axis, lens: Option<&Distortion>) -> Option<Fit> {
    let (width, height) = (residual.width as f64, residual.height as f64);
    let through_lens =
        |points: &[[f64; 2]], map: fn([f64; 2], &Distortion, f64, f64) -> [f64; 2]| -> Points {
            lens.map_or_else(
                || points.to_vec(),
                |lens| points.iter().map(|p| map(*p, lens, width, height)).collect(),
            )
        };
    let mut best = fit::arc(&through_lens(&axis.points_px, undistort), axis.place_noise_px)?;
    if best.residual_px > WANDERS * axis.mixture.sigma_px.max(1.0) {
        return Some(best);
    }
    for _ in 0..ARC_ROUNDS {
        let line = through_lens(&best.line_px(), distort);
        let again = section::about(residual, &line, &axis.mixture);
        match fit::arc(&through_lens(&again, undistort), axis.place_noise_px) {
            Some(next) => best = next,
            None => break,
        }
    }
    Some(best)
}

/// Features of all candidates of a picture, in their order.
pub(crate) fn features_of(candidates: &[Candidate], cleared: &Cleared) -> Vec<[f64; N_FEATURES]> {
    let mut features: Vec<[f64; N_FEATURES]> =
        candidates.par_iter().map(|c| features::own(c, cleared)).collect();
    features::add_context(
        &mut features,
        candidates,
        (cleared.residual.width * cleared.residual.height) as f64,
    );
    features
}

/// A candidate as the trace that is reported.
pub(crate) fn trace(placed: &Placed, log10_nfa: f64, width_px: f64, height_px: f64) -> Trace {
    let inside = |p: Option<&[f64; 2]>| p.is_some_and(|p| ends_within(*p, width_px, height_px));
    Trace {
        id: 0,
        length_px: placed.length_px,
        width_px: placed.width_px,
        direction: placed.direction,
        direction_u_deg: placed.direction_u_deg,
        curvature_per_px: placed.curvature_per_px,
        ends: Ends {
            first_inside: inside(placed.points_px.first()),
            last_inside: inside(placed.points_px.last()),
        },
        contrast: placed.contrast,
        log10_nfa,
        suspect: None,
        points_px: placed.points_px.clone(),
    }
}
