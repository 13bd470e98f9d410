//! Rendered stone before `picture`'s judgement of motion.

use finish::models::{Detail, Draw, Finish, Window, strokes_in_field};
use finish::render::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};
use finish::render::{Groove, Motion, Scene, render};
use picture::{Limits, judge, read};
use quantity::AxialDeg;
use rand::SeedableRng;
use rand_pcg::Pcg64;

const SEED: u64 = 15;
const SIZE_PX: [usize; 2] = [640, 480];
const UM_PER_PX: f64 = 2.5;

/// A small field with a few broad strokes by hand: along 0° they darken the spectrum like a motion of 30 px.
fn broad_strokes() -> Scene {
    let [width_mm, height_mm] = SIZE_PX.map(|px| px as f64 * UM_PER_PX / 1000.0);
    let window = Window { width_mm, height_mm };
    let detail = Detail { step_mm: 4.0 * UM_PER_PX / 1000.0, step_rad: 0.05, most: 600 };
    let finish = Finish::named("free-hand").unwrap_or_else(|| panic!("a finish of this name"));
    let strokes = strokes_in_field(finish, &Draw::WIDE, window, detail, &mut Pcg64::seed_from_u64(SEED));
    let makes = [GrooveMake::Clean, GrooveMake::Uneven, GrooveMake::Chipped];
    let grooves = strokes
        .into_iter()
        .zip(makes.into_iter().cycle())
        .map(|(stroke, make)| Groove {
            points_um: stroke.points_um(window),
            width_um: stroke.width_um,
            depth_um: stroke.depth_um,
            character: character(make),
        })
        .collect();
    let (lighting, optics, sensor) = instrument(InstrumentMake::HandHeld, 35.0);
    Scene {
        width_px: SIZE_PX[0],
        height_px: SIZE_PX[1],
        um_per_px: UM_PER_PX,
        stone: StoneMake::Diorite.stone(350.0),
        grooves,
        lighting,
        optics,
        sensor,
    }
}

fn motion_seen(scene: &Scene) -> Option<picture::Motion> {
    let picture = render(scene, SEED)
        .map_err(|e| e.to_string())
        .and_then(|rendered| rendered.grey.to_png8().map_err(|e| e.to_string()))
        .and_then(|file| read(&file, "test.png", &Limits::default()).map_err(|e| e.to_string()))
        .unwrap_or_else(|failed| panic!("{failed}"));
    judge(&picture.grey, &picture.facts).motion
}

#[test]
fn a_few_broad_scratches_are_told_from_motion() {
    assert_eq!(motion_seen(&broad_strokes()), None);
}

#[test]
fn motion_of_bare_stone_is_seen() {
    for (length_px, direction_deg) in [(14.0, 110.0), (22.0, 0.0)] {
        let mut moved = broad_strokes();
        moved.grooves.clear();
        moved.stone = StoneMake::Dolerite.stone(350.0);
        (_, moved.optics, moved.sensor) = instrument(InstrumentMake::Stand, 35.0);
        let direction = AxialDeg::new(direction_deg).unwrap();
        moved.optics.motion = Some(Motion { direction, length_px });
        let seen = motion_seen(&moved).unwrap_or_else(|| panic!("{length_px} px along {direction_deg}°"));
        assert!(seen.direction.angle_to(direction) < 16.0, "{seen:?}");
        // The length is known to a factor of two.
        assert!((0.5..2.0).contains(&(seen.length_px / length_px)), "{seen:?}");
    }
}
