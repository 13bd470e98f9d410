//! The micrographs of the sample object: four stations, three pictures each.

use quantity::Measured;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use picture::Distortion;

use super::{Instrument, Micrograph};
use crate::models::{Detail, Finish, Object, Place, Surface, Values, Wear, Window, normal, strokes};
use crate::render::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};
use crate::render::{Character, Groove, Scene};

/// Size of every micrograph, px.
pub(super) const SIZE_PX: [usize; 2] = [1280, 960];
/// Median grain of the object's stone, µm.
const GRAIN_UM: f64 = 420.0;

/// How one station was finished.
pub(super) struct Finishing {
    pub(super) finish: &'static str,
    pub(super) values: Values,
    pub(super) surface: Surface,
    pub(super) wear: Wear,
    pub(super) groove: GrooveMake,
    pub(super) seed: u64,
}

/// The three micrographs of a station: one wide field under two azimuths, and one narrow field.
pub(super) fn micrographs(
    letter: char,
    finishing: &Finishing,
    instruments: &[Instrument; 2],
    azimuths_deg: [f64; 3],
) -> Option<Vec<Micrograph>> {
    let finish = Finish::named(finishing.finish)?;
    let object =
        Object { finish, values: finishing.values, surface: finishing.surface, wear: finishing.wear };
    let mut rng = Pcg64::seed_from_u64(finishing.seed);
    let station = object.station(&mut rng);
    let wide: u64 = rng.random();
    let narrow: u64 = rng.random();
    let shot = |number: usize, which: usize, field: u64, centre_mm: [f64; 2]| {
        let mut rng = Pcg64::seed_from_u64(field);
        let um_per_px = instruments[which].um_per_px;
        let window = Window {
            width_mm: SIZE_PX[0] as f64 * um_per_px / 1000.0,
            height_mm: SIZE_PX[1] as f64 * um_per_px / 1000.0,
        };
        // Points so close that no chord misses its arc by a tenth of a pixel.
        let detail = Detail { step_mm: 0.03, step_rad: 0.01, most: 400 };
        let place = Place { centre_mm, camera_rad: 0.0 };
        let grooves = strokes(&object, &station, place, window, detail, &mut rng)
            .into_iter()
            .map(|s| Groove {
                points_um: s.points_um(window),
                width_um: s.width_um,
                // The models cut to the bottom of a fresh groove; polishing and handling leave a part of that.
                depth_um: s.depth_um * 0.75 * (0.4 * normal(&mut rng)).exp(),
                character: ends(character(finishing.groove), s.ends_inside),
            })
            .collect();
        let azimuth_deg = azimuths_deg[number];
        Micrograph {
            file_name: format!("{letter}{}-{}-az{azimuth_deg:03.0}.jpg", number + 1, instruments[which].id),
            instrument: instruments[which].id,
            scene: scene(grooves, &instruments[which], azimuth_deg),
            seed: field,
        }
    };
    Some(vec![shot(0, 0, wide, [0.0; 2]), shot(1, 0, wide, [0.0; 2]), shot(2, 1, narrow, [1.8, -1.1])])
}

/// A stroke that runs out of the field does not taper at its edge.
fn ends(character: Character, inside: [bool; 2]) -> Character {
    if inside == [true, true] { character } else { Character { taper_um: 0.0, ..character } }
}

fn scene(grooves: Vec<Groove>, with: &Instrument, azimuth_deg: f64) -> Scene {
    let (lighting, mut optics, mut sensor) = instrument(InstrumentMake::HandHeld, azimuth_deg);
    optics.blur_px = with.blur_px;
    optics.distortion = Some(Distortion { k1: Measured::exact(with.k1), centre_px: None });
    // The file itself is coded as JPEG.
    sensor.jpeg_quality = None;
    Scene {
        width_px: SIZE_PX[0],
        height_px: SIZE_PX[1],
        um_per_px: with.um_per_px,
        stone: StoneMake::Diorite.stone(GRAIN_UM),
        grooves,
        lighting,
        optics,
        sensor,
    }
}
