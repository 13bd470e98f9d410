//! The picture sets: LEARN to fit on, DEV and CHECK to choose by, HELD to report on and never to look at while choosing.
//!
//! HELD is of another make: other stones, instruments, ways of cutting and densities than LEARN and DEV. Most of LEARN
//! and all of CHECK are of stones and instruments that stray from their kind.

pub mod paths;
mod straying;

use finish::render::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};
use finish::render::{Character, Groove, Scene};
use picture::Distortion;
use quantity::Measured;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use paths::{Line, Page, between};

/// Which set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// 96 pictures to fit on.
    Learn,
    /// 14 pictures to choose by.
    Dev,
    /// 20 pictures of other makes to choose by.
    Check,
    /// 16 pictures to report on.
    Held,
}

/// What runs over the stone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Family {
    /// A few strokes in one or two directions.
    Sparse,
    /// One crowded set.
    Crowded,
    /// Two sets that cross.
    CrossHatch,
    /// Arcs of a large pad.
    Arcs,
    /// Crowded, strongly bent arcs.
    CrowdedArcs,
    /// Small loops.
    Loops,
    /// Evenly spaced strokes.
    Feed,
    /// Wandering strokes.
    FreeHand,
    /// A few faint strokes through the whole picture.
    Faint,
    /// Nothing.
    None,
}

/// One picture to be rendered.
#[derive(Debug, Clone)]
pub struct Case {
    /// Name for tables and files.
    pub name: String,
    /// What runs over the stone.
    pub family: Family,
    /// The scene.
    pub scene: Scene,
    /// Seed of the rendering.
    pub seed: u64,
    /// Directions of the sets that were laid, degrees; empty where there is no lay.
    pub laid_deg: Vec<f64>,
}

impl Case {
    /// Whether every groove is a line or a circle, so that one curvature describes it.
    #[must_use]
    pub fn is_circular(&self) -> bool {
        !matches!(self.family, Family::FreeHand | Family::Loops | Family::None)
    }
}

/// What a set is made of.
#[derive(Clone, Copy)]
struct Make {
    stones: &'static [StoneMake],
    instruments: &'static [InstrumentMake],
    grooves: &'static [GrooveMake],
    families: &'static [Family],
    /// Microns per pixel: fields of about 1 to 6 mm.
    scales: &'static [f64],
    grain_um: [f64; 2],
    /// Depth over width of the grooves.
    depth: [f64; 2],
    width_px: [f64; 2],
    blur_px: [f64; 2],
    /// Factor on the number of grooves.
    crowding: f64,
    /// Median contrast-to-noise ratio that a picture's grooves are brought to: their spread of depth makes it 0.3 to 4 times
    /// that.
    median_cnr: [f64; 2],
    /// Sizes of pictures, px, in turn.
    sizes: &'static [[usize; 2]],
    /// Whether stones and instruments stray from their kind.
    strays: bool,
    /// Every so many pictures the stone is calm: what it draws is faint; 0 for never.
    calm_every: usize,
    seed: u64,
}

use Family::{Arcs, CrossHatch, Crowded, CrowdedArcs, Faint, Feed, FreeHand, Loops, None as Bare, Sparse};

const LEARN: Make = Make {
    stones: &[StoneMake::Diorite, StoneMake::Granite, StoneMake::Dolerite, StoneMake::Marble],
    instruments: &[InstrumentMake::Stand, InstrumentMake::HandHeld, InstrumentMake::RingHeld],
    grooves: &[GrooveMake::Clean, GrooveMake::Uneven],
    families: &[
        Sparse,
        Crowded,
        CrossHatch,
        Arcs,
        Bare,
        FreeHand,
        CrowdedArcs,
        Feed,
        Loops,
        Faint,
        CrossHatch,
        Arcs,
        Bare,
        Crowded,
        FreeHand,
        Sparse,
        CrowdedArcs,
        Bare,
        CrossHatch,
        Faint,
        Feed,
        Loops,
        Bare,
        Arcs,
        Loops,
        CrossHatch,
        Loops,
        FreeHand,
    ],
    scales: &[1.0, 2.2, 5.2],
    grain_um: [180.0, 700.0],
    depth: [0.012, 0.16],
    width_px: [1.0, 12.0],
    blur_px: [0.7, 1.9],
    crowding: 1.0,
    median_cnr: [1.2, 2.8],
    sizes: &[[1152, 896]],
    strays: false,
    calm_every: 0,
    seed: 1_001,
};

/// What LEARN holds beside: stray makes, as many under a ring as under one-sided light, and more of what is sparse.
const LEARN_STRAY: Make = Make {
    instruments: &[
        InstrumentMake::RingHeld,
        InstrumentMake::HandHeld,
        InstrumentMake::RingHeld,
        InstrumentMake::Stand,
    ],
    families: &[
        CrossHatch, Arcs, Feed, FreeHand, Loops, Sparse, CrossHatch, Arcs, FreeHand, Feed, Sparse, Loops,
    ],
    scales: &[0.9, 1.6, 2.8, 4.6],
    grain_um: [140.0, 900.0],
    blur_px: [0.6, 2.2],
    crowding: 0.8,
    median_cnr: [1.0, 3.2],
    strays: true,
    seed: 1_501,
    ..LEARN
};
/// Pictures of that.
const STRAYS: usize = 36;

/// And beside that: light through the lens, calm stone, small and large pictures.
const LEARN_BROAD: Make = Make {
    instruments: &[
        InstrumentMake::Coaxial,
        InstrumentMake::Stand,
        InstrumentMake::RingHeld,
        InstrumentMake::Coaxial,
        InstrumentMake::HandHeld,
    ],
    families: &[
        Crowded,
        CrossHatch,
        Feed,
        Arcs,
        Loops,
        FreeHand,
        CrowdedArcs,
        Sparse,
        Feed,
        CrossHatch,
        Arcs,
        Faint,
        FreeHand,
        Crowded,
        Loops,
        CrossHatch,
    ],
    sizes: &[[700, 520], [1152, 896], [1700, 1280], [900, 680]],
    crowding: 1.0,
    calm_every: 3,
    seed: 1_777,
    ..LEARN_STRAY
};
/// Pictures of that.
const BROAD: usize = 32;

const CHECK: Make = Make {
    stones: &[
        StoneMake::Gneiss,
        StoneMake::Dolerite,
        StoneMake::Quartzite,
        StoneMake::Granite,
        StoneMake::Diorite,
    ],
    instruments: &[InstrumentMake::Stand, InstrumentMake::RingHeld, InstrumentMake::HandHeld],
    grooves: &[GrooveMake::Chipped, GrooveMake::Clean, GrooveMake::Uneven],
    families: &[
        CrossHatch, Bare, Arcs, Feed, FreeHand, Loops, Bare, CrossHatch, Sparse, Arcs, Bare, Feed, FreeHand,
        Loops, Bare, CrossHatch, Arcs, FreeHand, Bare, Feed,
    ],
    scales: &[0.7, 1.3, 2.4, 5.0],
    grain_um: [160.0, 1000.0],
    depth: [0.01, 0.2],
    width_px: [1.0, 12.0],
    blur_px: [0.6, 2.4],
    crowding: 1.1,
    median_cnr: [1.0, 3.4],
    sizes: &[[1240, 1000]],
    strays: true,
    calm_every: 0,
    seed: 4_004,
};

const DEV: Make = Make {
    families: &[
        Sparse,
        Crowded,
        CrossHatch,
        Bare,
        Arcs,
        FreeHand,
        CrowdedArcs,
        Bare,
        Feed,
        Loops,
        Faint,
        Bare,
        Loops,
        CrossHatch,
    ],
    seed: 2_002,
    ..LEARN
};

const HELD: Make = Make {
    stones: &[
        StoneMake::Gneiss,
        StoneMake::Quartzite,
        StoneMake::Diorite,
        StoneMake::Granite,
        StoneMake::Marble,
    ],
    instruments: &[
        InstrumentMake::HandHeld,
        InstrumentMake::Coaxial,
        InstrumentMake::RingHeld,
        InstrumentMake::Stand,
    ],
    grooves: &[GrooveMake::Uneven, GrooveMake::Chipped, GrooveMake::Clean],
    families: &[
        CrossHatch,
        Arcs,
        Bare,
        Crowded,
        FreeHand,
        CrowdedArcs,
        Feed,
        Bare,
        Sparse,
        Loops,
        CrossHatch,
        Bare,
        Faint,
        Arcs,
        Crowded,
        Bare,
    ],
    scales: &[0.8, 3.0, 4.5],
    grain_um: [250.0, 900.0],
    depth: [0.014, 0.18],
    width_px: [1.0, 12.0],
    blur_px: [0.7, 2.0],
    crowding: 1.3,
    median_cnr: [1.1, 3.0],
    sizes: &[[1216, 832]],
    strays: false,
    calm_every: 0,
    seed: 3_003,
};

/// All pictures of a set.
#[must_use]
pub fn cases(which: Which) -> Vec<Case> {
    let made = |make: Make, count: usize| {
        let mut rng = Pcg64::seed_from_u64(make.seed);
        (0..count).map(move |k| case(&make, which, k, &mut rng))
    };
    let all = |make: Make| made(make, make.families.len());
    match which {
        Which::Learn => all(LEARN).chain(made(LEARN_STRAY, STRAYS)).chain(made(LEARN_BROAD, BROAD)).collect(),
        Which::Dev => all(DEV).collect(),
        Which::Check => all(CHECK).collect(),
        Which::Held => all(HELD).collect(),
    }
}

fn case(make: &Make, which: Which, k: usize, rng: &mut Pcg64) -> Case {
    let family = make.families[k % make.families.len()];
    let (stone, lamp) =
        (make.stones[k % make.stones.len()], make.instruments[(k + k / 4) % make.instruments.len()]);
    let um_per_px = make.scales[rng.random_range(0..make.scales.len())];
    let [width_px, height_px] = make.sizes[k % make.sizes.len()];
    let page = Page { width: width_px as f64, height: height_px as f64 };
    let (lines, laid_deg) = lay(family, page, make.crowding, rng);
    // Light across the lay, as an examiner would turn it, but not exactly.
    let across =
        laid_deg.first().map_or(360.0 * rng.random::<f64>(), |lay| lay + 90.0 + 35.0 * paths::normal(rng));
    let (lighting, mut optics, sensor) = if make.strays {
        straying::instrument(instrument(lamp, across), rng)
    } else {
        instrument(lamp, across)
    };
    optics.blur_px = between(make.blur_px[0], make.blur_px[1], rng);
    if k % 3 == 2 {
        let k1 = 0.012 * paths::normal(rng);
        optics.distortion = Some(Distortion { k1: Measured::exact(k1), centre_px: None });
    }
    let grain_um =
        between(make.grain_um[0], make.grain_um[1], rng).clamp(45.0 * um_per_px, 330.0 * um_per_px);
    let faint = matches!(family, Faint);
    let grooves = lines
        .into_iter()
        .map(|line| {
            groove(
                line,
                make,
                um_per_px,
                character(make.grooves[rng.random_range(0..make.grooves.len())]),
                rng,
            )
        })
        .collect();
    let stone_surface =
        if make.strays { straying::stone(stone.stone(grain_um), rng) } else { stone.stone(grain_um) };
    let is_calm = make.calm_every > 0 && k % make.calm_every == make.calm_every - 1;
    let stone_surface =
        if is_calm { straying::calmed(stone_surface, between(0.02, 0.35, rng)) } else { stone_surface };
    let scene =
        Scene { width_px, height_px, um_per_px, stone: stone_surface, grooves, lighting, optics, sensor };
    let median_cnr = if faint { FAINT_CNR } else { between(make.median_cnr[0], make.median_cnr[1], rng) };
    let scene = deepened(scene, median_cnr, rng.random());
    Case {
        name: format!(
            "{which:?}-{}{:02}-{family:?}-{stone:?}-{lamp:?}",
            match (make.strays, make.calm_every) {
                (false, _) => "",
                (true, 0) => "s",
                (true, _) => "b",
            },
            k + 1
        )
        .to_lowercase(),
        family,
        scene,
        seed: rng.random(),
        laid_deg,
    }
}

fn groove(line: Line, make: &Make, um_per_px: f64, character: Character, rng: &mut Pcg64) -> Groove {
    // Fine scratches are many, broad ones few.
    let width_px =
        make.width_px[0] * (make.width_px[1] / make.width_px[0]).powf(rng.random::<f64>().powf(1.6));
    let width_um = width_px * um_per_px;
    let character = if make.strays { straying::character(character, rng) } else { character };
    let ratio = between(make.depth[0], make.depth[1], rng);
    // Lengths along the groove that are given in µm belong to a field of about 2 mm; keep them in proportion to the picture.
    let scale = um_per_px / 2.0;
    let character = Character {
        unevenness_um: character.unevenness_um * scale,
        taper_um: character.taper_um * scale,
        ..character
    };
    Groove {
        points_um: line.iter().map(|p| [p[0] * um_per_px, p[1] * um_per_px]).collect(),
        width_um,
        depth_um: ratio * width_um,
        character,
    }
}

/// Median contrast-to-noise ratio of faint strokes.
const FAINT_CNR: f64 = 0.9;
/// The same of the fields of one radius: strong enough that most are found, since the bias is the question there.
const ARC_CNR: f64 = 2.5;
/// Most grooves tried on the probe.
const PROBES: usize = 40;

/// Scales all depths so that the median contrast comes out as wanted on this stone, in this light, through this lens:
/// a small probe picture with some of the grooves laid straight tells by how much.
fn deepened(mut scene: Scene, wanted_cnr: f64, seed: u64) -> Scene {
    let mut rng = Pcg64::seed_from_u64(seed);
    let (width_px, height_px) = (416, 312);
    let page = Page { width: width_px as f64, height: height_px as f64 };
    let relaid = |g: &Groove, rng: &mut Pcg64| {
        let (a, b) = (
            g.points_um.first().copied().unwrap_or_default(),
            g.points_um.last().copied().unwrap_or_default(),
        );
        let angle = (a[1] - b[1]).atan2(b[0] - a[0]);
        let line = paths::straight(page, 1, angle, 0.0, [200.0, 300.0], rng).swap_remove(0);
        Groove { points_um: line.iter().map(|p| p.map(|v| v * scene.um_per_px)).collect(), ..g.clone() }
    };
    let grooves: Vec<Groove> = scene.grooves.iter().take(PROBES).map(|g| relaid(g, &mut rng)).collect();
    let probe = Scene { width_px, height_px, grooves, ..scene.clone() };
    let mut cnr: Vec<f64> = finish::render::render(&probe, seed)
        .into_iter()
        .flat_map(|r| r.truth.scratches)
        .map(|s| s.cnr)
        .collect();
    cnr.sort_by(f64::total_cmp);
    if let Some(median) = cnr.get(cnr.len() / 2) {
        let factor = (wanted_cnr / median).clamp(0.2, 12.0);
        for g in &mut scene.grooves {
            // Walls steeper than 45° are no scratch.
            g.depth_um = (g.depth_um * factor).min(0.5 * g.width_um);
        }
    }
    scene
}

/// Lines of a family, and the directions of its sets.
fn lay(family: Family, page: Page, crowding: f64, rng: &mut Pcg64) -> (Vec<Line>, Vec<f64>) {
    let angle = rng.random::<f64>() * std::f64::consts::PI;
    let cross = angle + [-1.0, 1.0][usize::from(rng.random::<bool>())] * between(0.45, 1.5, rng);
    let more = crowding * (0.25 * paths::normal(rng)).exp();
    let count = |mean: f64| (mean * more).round() as usize;
    let deg = |angles: &[f64]| angles.iter().map(|a| a.to_degrees().rem_euclid(180.0)).collect();
    match family {
        Sparse => (paths::straight(page, count(14.0), angle, 0.05, [150.0, 900.0], rng), deg(&[angle])),
        Crowded => (paths::straight(page, count(220.0), angle, 0.03, [150.0, 1400.0], rng), deg(&[angle])),
        CrossHatch => {
            let mut lines = paths::straight(page, count(70.0), angle, 0.035, [120.0, 1200.0], rng);
            lines.extend(paths::straight(page, count(55.0), cross, 0.035, [120.0, 1200.0], rng));
            (lines, deg(&[angle, cross]))
        }
        Arcs => {
            let radius = between(1_500.0, 30_000.0, rng);
            (paths::arcs(page, count(80.0), radius, angle, 0.12, [200.0, 1500.0], rng), Vec::new())
        }
        CrowdedArcs => {
            let radius = between(250.0, 1_200.0, rng);
            (paths::arcs(page, count(150.0), radius, angle, 0.6, [150.0, 900.0], rng), Vec::new())
        }
        Loops => (paths::loops(page, count(60.0), between(45.0, 260.0, rng), rng), Vec::new()),
        Feed => (paths::feed(page, between(18.0, 60.0, rng), angle, rng), deg(&[angle])),
        FreeHand => (paths::free_hand(page, count(90.0), angle, 0.35, [120.0, 900.0], rng), Vec::new()),
        Faint => (paths::straight(page, count(10.0).max(5), angle, 0.4, [900.0, 1600.0], rng), Vec::new()),
        Bare => (Vec::new(), Vec::new()),
    }
}

/// Radii of the arcs whose curvature is tested for bias, mm.
pub const ARC_RADII_MM: [f64; 5] = [20.0, 50.0, 100.0, 200.0, 400.0];
/// Fields of each radius: about 170 traces, which know a mean to .09 of their scatter.
const ARC_FIELDS: usize = 8;

/// Fields 6 mm wide with arcs of one radius each, for the bias of curvature; radius in mm.
#[must_use]
pub fn arc_fields() -> Vec<(f64, Case)> {
    ARC_RADII_MM
        .repeat(ARC_FIELDS)
        .into_iter()
        .enumerate()
        .map(|(k, radius_mm)| {
            let mut rng = Pcg64::seed_from_u64(7_000 + k as u64);
            let um_per_px = 6_000.0 / 1152.0;
            let page = Page { width: 1152.0, height: 896.0 };
            let angle = rng.random::<f64>() * std::f64::consts::PI;
            let lines: Vec<Line> = (0..45)
                .map(|_| {
                    let middle = [rng.random::<f64>() * page.width, rng.random::<f64>() * page.height];
                    let length = between(300.0, 1200.0, &mut rng);
                    // All bend the same way: a bias towards the straight would otherwise cancel.
                    paths::bowed(
                        middle,
                        angle + 0.2 * paths::normal(&mut rng),
                        um_per_px / 1000.0 / radius_mm,
                        length,
                    )
                })
                .collect();
            let (lighting, optics, sensor) = instrument(InstrumentMake::HandHeld, angle.to_degrees() + 80.0);
            let grooves = lines
                .into_iter()
                .map(|line| groove(line, &LEARN, um_per_px, character(GrooveMake::Clean), &mut rng))
                .collect();
            let scene = Scene {
                width_px: 1152,
                height_px: 896,
                um_per_px,
                stone: StoneMake::Diorite.stone(500.0),
                grooves,
                lighting,
                optics,
                sensor,
            };
            let scene = deepened(scene, ARC_CNR, rng.random());
            let case = Case {
                name: format!("arcs-{radius_mm}-mm"),
                family: Arcs,
                scene,
                seed: rng.random(),
                laid_deg: Vec::new(),
            };
            (radius_mm, case)
        })
        .collect()
}
