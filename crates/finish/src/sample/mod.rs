//! The sample examination: an invented object in an invented store, its stations, pictures and true answers.
//!
//! Nothing here stands for a real object, place or person. The pictures are rendered when asked for, not stored.

mod graduation;
mod overview;
mod stations;

pub use graduation::Plate;

use picture::{Light, Rgb};

use crate::models::{Surface, Wear};
use crate::render::makes::GrooveMake;
use crate::render::{RenderError, Rendered, Scene, render};
use stations::{Finishing, SIZE_PX, micrographs};

/// The whole scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// The object.
    pub object: ObjectText,
    /// Instruments, each at one setting.
    pub instruments: Vec<Instrument>,
    /// The overview photograph.
    pub overview: Overview,
    /// Photographs of a graduation, one per instrument.
    pub graduations: Vec<GraduationShot>,
    /// Stations with their micrographs.
    pub stations: Vec<Station>,
}

/// What is written about the object.
#[derive(Debug, Clone, PartialEq)]
pub struct ObjectText {
    /// Its name.
    pub name: &'static str,
    /// Where it is kept.
    pub place: &'static str,
    /// Rock.
    pub rock: &'static str,
    /// Minerals with their shares, as counted on the pictures.
    pub minerals: Vec<(&'static str, f64)>,
    /// Conditions of access.
    pub conditions: &'static str,
    /// Why it is examined.
    pub question: &'static str,
}

/// A microscope at one setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instrument {
    /// Short name, used in file names.
    pub id: &'static str,
    /// What it is.
    pub name: &'static str,
    /// True scale: what the graduation must give.
    pub um_per_px: f64,
    /// Micrometres per tick of its graduation.
    pub um_per_tick: f64,
    /// True distortion of its lens.
    pub k1: f64,
    /// Standard deviation of its point spread, px.
    pub blur_px: f64,
}

/// The overview photograph.
#[derive(Debug, Clone, PartialEq)]
pub struct Overview {
    /// File name.
    pub file_name: &'static str,
    /// Caption.
    pub caption: &'static str,
    /// Width and height, px.
    pub size_px: [usize; 2],
}

/// A photographed graduation.
#[derive(Debug, Clone, PartialEq)]
pub struct GraduationShot {
    /// File name.
    pub file_name: String,
    /// Which instrument.
    pub instrument: &'static str,
    /// The graduation under the lens.
    pub plate: Plate,
}

/// One station.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Letter.
    pub id: char,
    /// Name.
    pub name: &'static str,
    /// Note of the examiner.
    pub note: &'static str,
    /// Pin on the overview, px.
    pub pin_px: [f64; 2],
    /// Micrographs.
    pub micrographs: Vec<Micrograph>,
    /// How it was truly finished.
    pub answer: Answer,
}

/// The true answer for one station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// Name of the finish, as in `models`.
    pub finish: &'static str,
    /// In words.
    pub sentence: &'static str,
}

/// One micrograph to be rendered.
#[derive(Debug, Clone, PartialEq)]
pub struct Micrograph {
    /// File name.
    pub file_name: String,
    /// Which instrument.
    pub instrument: &'static str,
    /// What is rendered.
    pub scene: Scene,
    /// Seed of the rendering.
    pub seed: u64,
}

/// Why a picture of the sample could not be made.
#[derive(Debug, thiserror::Error)]
pub enum SampleError {
    /// The scene could not be rendered.
    #[error("{file}: {source}")]
    Render {
        /// Which file.
        file: String,
        /// Why.
        source: RenderError,
    },
    /// The picture could not be coded.
    #[error("{file}: {detail}")]
    Encode {
        /// Which file.
        file: String,
        /// Why.
        detail: String,
    },
}

/// JPEG quality of the sample's files: as cameras of this kind write.
const JPEG_QUALITY: u8 = 92;
const SEED: u32 = 20_731;

impl Micrograph {
    /// Light as the examiner noted it.
    #[must_use]
    pub fn light(&self) -> Light {
        self.scene.lighting.noted()
    }

    /// The picture with its truth.
    ///
    /// # Errors
    /// If the scene cannot be rendered.
    pub fn render(&self) -> Result<Rendered, SampleError> {
        render(&self.scene, self.seed)
            .map_err(|source| SampleError::Render { file: self.file_name.clone(), source })
    }

    /// The JPEG file.
    ///
    /// # Errors
    /// If the scene cannot be rendered or coded.
    pub fn file(&self) -> Result<Vec<u8>, SampleError> {
        jpeg(Some(self.render()?.grey), &self.file_name)
    }
}

impl Overview {
    /// The JPEG file.
    ///
    /// # Errors
    /// If it cannot be coded.
    pub fn file(&self) -> Result<Vec<u8>, SampleError> {
        jpeg(overview::photograph(SEED), self.file_name)
    }
}

impl GraduationShot {
    /// The PNG file: ticks keep their edges.
    ///
    /// # Errors
    /// If it cannot be coded.
    pub fn file(&self) -> Result<Vec<u8>, SampleError> {
        let failed = |detail: String| SampleError::Encode { file: self.file_name.clone(), detail };
        let grey = self.plate.photograph(SEED).ok_or_else(|| failed("no pixel".to_owned()))?;
        grey.to_png8().map_err(|e| failed(e.to_string()))
    }
}

fn jpeg(grey: Option<picture::Grey>, file: &str) -> Result<Vec<u8>, SampleError> {
    let failed = |detail: String| SampleError::Encode { file: file.to_owned(), detail };
    let picture = grey.as_ref().and_then(Rgb::from_grey).ok_or_else(|| failed("no pixel".to_owned()))?;
    picture.to_jpeg(JPEG_QUALITY).map_err(|e| failed(e.to_string()))
}

/// The sample scenario, always the same.
#[must_use]
pub fn scenario() -> Scenario {
    let instruments = [
        Instrument {
            id: "wide",
            name: "Hand microscope, lens turned out",
            um_per_px: 4.712,
            um_per_tick: 100.0,
            k1: -0.011,
            blur_px: 1.1,
        },
        Instrument {
            id: "near",
            name: "Hand microscope, lens turned in",
            um_per_px: 0.826,
            um_per_tick: 10.0,
            k1: 0.004,
            blur_px: 1.6,
        },
    ];
    let plate = |k: usize, tilt_deg: f64| GraduationShot {
        file_name: format!("graduation-{}.png", instruments[k].id),
        instrument: instruments[k].id,
        plate: Plate {
            size_px: SIZE_PX,
            pitch_px: instruments[k].um_per_tick / instruments[k].um_per_px,
            tilt_deg,
            k1: instruments[k].k1,
            blur_px: instruments[k].blur_px,
        },
    };
    Scenario {
        object: ObjectText {
            name: "Ring stand, dark speckled stone",
            place: "Ostrel store, bay 3, tray 12 (invented)",
            rock: "diorite",
            minerals: vec![("plagioclase", 0.58), ("hornblende", 0.26), ("biotite", 0.09), ("quartz", 0.07)],
            conditions: "One hour, keeper present. Not to be touched, no cast, no adhesive, no liquid; lamp and \
                         microscope on their own stand.",
            question: "Was the rim finished in the same way as the foot, and did anything happen to the surface later?",
        },
        overview: Overview {
            file_name: "overview.jpg",
            caption: "The ring stand from the front, lamp at the upper left.",
            size_px: overview::SIZE_PX,
        },
        graduations: vec![plate(0, 2.3), plate(1, -1.4)],
        stations: station_list(&instruments),
        instruments: instruments.to_vec(),
    }
}

/// A station before its pictures.
struct Draft {
    id: char,
    name: &'static str,
    note: &'static str,
    pin_px: [f64; 2],
    finishing: Finishing,
    azimuths_deg: [f64; 3],
    sentence: &'static str,
}

fn station_list(instruments: &[Instrument; 2]) -> Vec<Station> {
    [rim_left(), rim_right(), foot(), waist()]
        .into_iter()
        .filter_map(|d| {
            Some(Station {
                id: d.id,
                name: d.name,
                note: d.note,
                pin_px: d.pin_px,
                micrographs: micrographs(d.id, &d.finishing, instruments, d.azimuths_deg)?,
                answer: Answer { finish: d.finishing.finish, sentence: d.sentence },
            })
        })
        .collect()
}

fn surface(width_um: f64, spacing_ratio: f64) -> Surface {
    Surface { width_um, spacing_ratio, width_log_sd: 0.4 }
}

fn rim_left() -> Draft {
    Draft {
        id: 'A',
        name: "Upper face of the rim, left",
        note: "Glossy; light from two sides and a near field.",
        pin_px: overview::seen_at(205.0, 8.8, Some(11.2)),
        finishing: Finishing {
            finish: "rotating-pad",
            // Pad of 76 mm, arcs of about 28 mm, two passes, tilted.
            values: [76.0, 1.0, 28.0, 2.0, 1.0, 0.0, 0.0, 0.0],
            surface: surface(13.0, 6.0),
            wear: Wear { share: 0.04, ..Wear::NONE },
            groove: GrooveMake::Clean,
            seed: 41_001,
        },
        azimuths_deg: [35.0, 125.0, 35.0],
        sentence: "Arcs of a tilted turning pad 76 mm across, two passes.",
    }
}

fn rim_right() -> Draft {
    Draft {
        id: 'B',
        name: "Upper face of the rim, right",
        note: "As A by eye; a dull patch beside it was left out.",
        pin_px: overview::seen_at(318.0, 8.8, Some(10.6)),
        finishing: Finishing {
            finish: "rotating-pad",
            values: [76.0, 1.0, 28.0, 1.0, 1.0, 0.0, 0.0, 0.0],
            surface: surface(13.0, 7.0),
            wear: Wear { share: 0.05, ..Wear::NONE },
            groove: GrooveMake::Clean,
            seed: 41_002,
        },
        azimuths_deg: [80.0, 170.0, 80.0],
        sentence: "Arcs of the same pad as at A, one pass.",
    }
}

fn foot() -> Draft {
    Draft {
        id: 'C',
        name: "Flat of the foot, front",
        note: "Two directions seen with the lamp low.",
        pin_px: overview::seen_at(262.0, 2.0, Some(11.4)),
        finishing: Finishing {
            finish: "guided-rub",
            // Spread 1.5°, radius 4 m, strokes of 90 mm, a second direction.
            values: [1.5, 4_000.0, 90.0, 1.0, 0.0, 0.0, 0.0, 0.0],
            surface: surface(15.0, 5.5),
            wear: Wear { share: 0.03, ..Wear::NONE },
            groove: GrooveMake::Uneven,
            seed: 41_003,
        },
        azimuths_deg: [15.0, 105.0, 60.0],
        sentence: "Straight guided rubbing in two directions.",
    }
}

fn waist() -> Draft {
    Draft {
        id: 'D',
        name: "Waist, front right",
        note: "Softly worn; marks run every way.",
        pin_px: overview::seen_at(292.0, 4.9, None),
        finishing: Finishing {
            finish: "free-hand",
            // Radius 90 mm, three groups, strokes of 25 mm, spread 9°.
            values: [90.0, 3.0, 25.0, 9.0, 0.3, 0.4, 0.0, 0.0],
            surface: surface(12.0, 7.0),
            wear: Wear { share: 0.35, wiped: false, length_mm: 2.0, radius_mm: 120.0, width_factor: 0.7 },
            groove: GrooveMake::Uneven,
            seed: 41_004,
        },
        azimuths_deg: [50.0, 140.0, 140.0],
        sentence: "Free-hand rubbing in three groups; a third of the marks are later wear.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_stations_of_three_pictures_with_their_names_and_lights() {
        let scenario = scenario();
        assert_eq!(scenario.stations.len(), 4);
        let mut names = std::collections::BTreeSet::new();
        for station in &scenario.stations {
            assert_eq!(station.micrographs.len(), 3, "{}", station.name);
            let lights: Vec<Light> = station.micrographs.iter().map(Micrograph::light).collect();
            assert!(lights.iter().any(|l| *l != lights[0]), "{}: one light only", station.name);
            for m in &station.micrographs {
                assert!(names.insert(m.file_name.clone()), "{} twice", m.file_name);
                assert!(m.scene.grooves.len() > 5, "{}: {} grooves", m.file_name, m.scene.grooves.len());
                assert!(scenario.instruments.iter().any(|i| i.id == m.instrument));
            }
            let [x, y] = station.pin_px;
            let [width, height] = scenario.overview.size_px.map(|n| n as f64);
            assert!(
                x > 0.1 * width && x < 0.9 * width && y > 0.1 * height && y < 0.9 * height,
                "{station:?}"
            );
        }
        assert_eq!(scenario.graduations.len(), scenario.instruments.len());
    }

    /// The plate's ticks lie one pitch apart: their dark middles along a row near the centre, where the lens bends least.
    #[test]
    fn the_graduation_has_the_pitch_of_the_scale() {
        let scenario = scenario();
        let shot = &scenario.graduations[0];
        let grey = shot.plate.photograph(1).unwrap();
        // Through the plain ticks, a little above their base line.
        let row = grey.row(SIZE_PX[1] / 2 + 60);
        let middle = SIZE_PX[0] / 2;
        let dark: Vec<f64> = (middle - 110..middle + 110)
            .filter(|&x| row[x] < 0.55 && row[x] <= row[x - 1] && row[x] < row[x + 1])
            .map(|x| {
                let (a, b, c) = (f64::from(row[x - 1]), f64::from(row[x]), f64::from(row[x + 1]));
                x as f64 + 0.5 * (a - c) / (a - 2.0 * b + c)
            })
            .collect();
        let pitch = (dark[dark.len() - 1] - dark[0]) / (dark.len() - 1) as f64;
        // Along a row the tilted ticks lie 1/cos(tilt) further apart.
        let wanted = scenario.instruments[0].um_per_tick
            / scenario.instruments[0].um_per_px
            / shot.plate.tilt_deg.to_radians().cos();
        assert!((pitch / wanted - 1.0).abs() < 0.005, "{pitch} for {wanted}; {dark:?}");
    }
}
