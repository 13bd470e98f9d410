use std::io::Write;

use proptest::prelude::*;
use zip::write::SimpleFileOptions;

use super::*;

/// A container to be spoilt by the tests; the layout follows the public schema text of ISO 25178-72.
struct Sample {
    kind: &'static str,
    z_type: &'static str,
    z_axis: &'static str,
    size: [usize; 3],
    data: Vec<u8>,
    mask: Option<Vec<u8>>,
    head: &'static str,
    data_digest: Option<String>,
    listed: Option<&'static str>,
}

impl Sample {
    fn of(z_type: &'static str, size: [usize; 3], data: Vec<u8>) -> Self {
        let z_axis = "<Increment>2e-9</Increment><Offset>1e-6</Offset>";
        Self {
            kind: "SUR",
            z_type,
            z_axis,
            size,
            data,
            mask: None,
            head: "",
            data_digest: None,
            listed: None,
        }
    }

    fn xml(&self) -> String {
        let digest =
            |bytes: &[u8]| -> String { Md5::digest(bytes).iter().map(|b| format!("{b:02X}")).collect() };
        let data_digest = self.data_digest.clone().unwrap_or_else(|| digest(&self.data));
        let mask = self.mask.as_ref().map(|mask| {
            format!(
                "<ValidPointsLink>bindata/valid.bin</ValidPointsLink><MD5ChecksumValidPoints>{}</MD5ChecksumValidPoints>",
                digest(mask)
            )
        });
        let link = match self.listed {
            Some(list) => format!("<DataList>{list}</DataList>"),
            None => format!(
                "<DataLink><PointDataLink>bindata/data.bin</PointDataLink>\
                 <MD5ChecksumPointData>{data_digest}</MD5ChecksumPointData>{}</DataLink>",
                mask.unwrap_or_default()
            ),
        };
        let [x, y, z] = self.size;
        format!(
            r#"<?xml version="1.0" encoding="UTF-8"?>{}<p:ISO5436_2 xmlns:p="http://www.opengps.eu/2008/ISO5436_2"><Record1>
            <Revision>ISO5436 - 2000</Revision><FeatureType>{}</FeatureType><Axes>
            <CX><AxisType>I</AxisType><DataType>D</DataType><Increment>1e-6</Increment><Offset>0</Offset></CX>
            <CY><AxisType>I</AxisType><DataType>D</DataType><Increment>2e-6</Increment><Offset>0</Offset></CY>
            <CZ><AxisType>A</AxisType><DataType>{}</DataType>{}</CZ></Axes></Record1>
            <Record2><Date>2026-11-25T00:00:00Z</Date><Instrument><Model>invented &amp; plain</Model></Instrument></Record2>
            <Record3><MatrixDimension><SizeX>{x}</SizeX><SizeY>{y}</SizeY><SizeZ>{z}</SizeZ></MatrixDimension>{link}</Record3>
            <Record4><ChecksumFile>md5checksum.hex</ChecksumFile></Record4></p:ISO5436_2>"#,
            self.head, self.kind, self.z_type, self.z_axis
        )
    }

    fn bytes(&self) -> Vec<u8> {
        let xml = self.xml();
        let digest: String = Md5::digest(xml.as_bytes()).iter().map(|b| format!("{b:02x}")).collect();
        pack(&[
            ("main.xml", Some(xml.as_bytes())),
            ("md5checksum.hex", Some(format!("{digest} *main.xml").as_bytes())),
            ("bindata/data.bin", Some(&self.data)),
            ("bindata/valid.bin", self.mask.as_deref()),
        ])
    }

    fn read(&self) -> Result<HeightRead, ReadError> {
        read(&self.bytes(), &Limits::default())
    }
}

fn pack(files: &[(&str, Option<&[u8]>)]) -> Vec<u8> {
    let mut container = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, contents) in files {
        if let Some(contents) = contents {
            container.start_file(*name, SimpleFileOptions::default()).unwrap();
            container.write_all(contents).unwrap();
        }
    }
    container.finish().unwrap().into_inner()
}

fn i16s(values: &[i16]) -> Vec<u8> {
    values.iter().flat_map(|v| v.to_le_bytes()).collect()
}

#[test]
fn whole_numbers_are_signed_counts_of_the_increment() {
    let read = Sample::of("I", [3, 2, 1], i16s(&[0, 1, -1, 500, -32768, 32767])).read().unwrap();
    assert_eq!((read.map.width(), read.map.height()), (3, 2));
    assert!((read.map.dx_um() - 1.0).abs() < 1e-12 && (read.map.dy_um() - 2.0).abs() < 1e-12);
    for (found, expected) in read.map.z_um().iter().zip([1.0, 1.002, 0.998, 2.0, -64.536, 66.534]) {
        assert!((found - expected).abs() < 1e-9, "{found} instead of {expected}");
    }
    assert!(read.notes.is_empty(), "{:?}", read.notes);
    assert_eq!(read.facts[1], ("Instrument Model".to_owned(), "invented & plain".to_owned()));
}

#[test]
fn every_stored_type_gives_the_same_heights() {
    let metres = [1.5e-6, -2.5e-6];
    let f32s = metres.iter().flat_map(|&z| (z as f32).to_le_bytes()).collect();
    let f64s = metres.iter().flat_map(|z: &f64| z.to_le_bytes()).collect();
    let i32s = [250_i32, -1750].iter().flat_map(|z| z.to_le_bytes()).collect();
    for (z_type, data, offset_um) in [("F", f32s, 1.0), ("D", f64s, 1.0), ("L", i32s, 0.0)] {
        let read = Sample::of(z_type, [1, 2, 1], data).read().unwrap();
        for (found, expected) in read.map.z_um().iter().zip([1.5 + offset_um, -2.5 + offset_um]) {
            assert!((found - expected).abs() < 1e-6, "{z_type}: {found}");
        }
    }
}

/// Bits from the least significant, 1 valid, as in the library published beside the standard (openGPS, source seen),
/// which sets the bits left over; other writers clear them.
#[test]
fn masked_points_are_not_measured() {
    let mut sample = Sample::of("I", [5, 2, 1], i16s(&[0; 10]));
    sample.mask = Some(vec![0b1111_1101, 0b0000_0010]);
    let read = sample.read().unwrap();
    let missing: Vec<usize> = (0..10).filter(|&i| read.map.z_um()[i].is_nan()).collect();
    assert_eq!(missing, [1, 8]);
    sample.mask = Some(vec![0b1111_1101, 0b1111_1110]);
    let same = sample.read().unwrap().map.measured() == read.map.measured();
    assert!(same, "bits beyond the last point count for nothing");
    sample.mask = Some(vec![0, 0]);
    assert!(sample.read().unwrap_err().to_string().contains("at least 1 usable points"));
}

#[test]
fn heights_may_stand_in_the_description() {
    let mut sample = Sample::of("D", [2, 2, 1], Vec::new());
    sample.listed = Some("<Datum>1e-6</Datum><Datum/><Datum>0;0;2e-6</Datum><Datum>3e-6</Datum>");
    let read = sample.read().unwrap();
    assert!(read.map.z_um()[1].is_nan());
    assert!((read.map.z_um()[2] - 3.0).abs() < 1e-9);
}

#[test]
fn a_wrong_checksum_is_a_warning() {
    let mut sample = Sample::of("I", [1, 1, 1], i16s(&[7]));
    sample.data_digest = Some("00".repeat(16));
    let notes = sample.read().unwrap().notes;
    assert!(notes[0].contains("checksum of bindata/data.bin is wrong"), "{notes:?}");
}

#[test]
fn lies_and_bombs_are_refused_in_one_line() {
    let small = || Sample::of("I", [2, 1, 1], i16s(&[1, 2]));
    let cases = [
        (Sample { size: [1_000_000, 1_000_000, 1], ..small() }, "more than the limit"),
        (Sample { size: [3, 1, 1], ..small() }, "3 heights need 6"),
        (Sample { size: [1, 1, 1], ..small() }, "unpacks to more than the 2 bytes"),
        (Sample { size: [0, 1, 1], ..small() }, "a grid without points"),
        (Sample { size: [1, 1, 2], ..small() }, "2 layers"),
        (Sample { kind: "PCL", ..small() }, "needed: a surface"),
        (Sample { z_type: "Q", ..small() }, "needed: I, L, F or D"),
        (Sample { z_axis: "<Increment>many</Increment>", ..small() }, "not a number"),
        (Sample { z_axis: "", ..small() }, "Increment is missing"),
        (Sample { z_axis: "<Increment>&bomb;</Increment>", ..small() }, "uses the entity 'bomb'"),
        (
            Sample { head: r#"<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>"#, ..small() },
            "declares a document type",
        ),
    ];
    for (sample, message) in cases {
        let refused = sample.read().unwrap_err().to_string();
        assert!(refused.contains(message) && !refused.contains('\n'), "{refused}");
    }
}

#[test]
fn a_zip_bomb_stops_at_the_size_it_should_have() {
    let sample = Sample::of("I", [2, 1, 1], i16s(&[1, 2]));
    let xml = sample.xml();
    let bomb = vec![0_u8; 64 << 20];
    let bytes = pack(&[("main.xml", Some(xml.as_bytes())), ("bindata/data.bin", Some(&bomb))]);
    assert!(bytes.len() < 1 << 20);
    assert!(read(&bytes, &Limits::default()).unwrap_err().to_string().contains("unpacks to more"));
}

#[test]
fn a_description_of_millions_of_entries_is_refused() {
    let xml = format!("<r>{}</r>", "<q>1</q>".repeat(20_000));
    let refused = read(&pack(&[("main.xml", Some(xml.as_bytes()))]), &Limits::default()).unwrap_err();
    assert!(refused.to_string().contains("more than 10000 entries"), "{refused}");
}

#[test]
fn a_container_without_description_is_named_so() {
    let refused = read(&pack(&[("other.xml", Some(b"<a/>"))]), &Limits::default()).unwrap_err().to_string();
    assert!(refused.contains("main.xml"), "{refused}");
}

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        let _ = read(&bytes, &Limits::default());
    }

    #[test]
    fn any_description_is_read_or_refused(xml in "(<[A-Za-z3/:]{1,12}>|[a-z&;#0-9<>!\"'=\\[\\]]{0,6}){0,20}") {
        let bytes = pack(&[("main.xml", Some(xml.as_bytes()))]);
        let _ = read(&bytes, &Limits::default());
    }

    #[test]
    fn a_cut_or_altered_container_never_panics(cut in 0_usize..2000, place in 0_usize..2000, byte in any::<u8>()) {
        let whole = Sample::of("I", [2, 2, 1], i16s(&[1, 2, 3, 4])).bytes();
        let limits = Limits { heights: 10_000, ..Limits::default() };
        let _ = read(&whole[..cut.min(whole.len())], &limits);
        let mut altered = whole.clone();
        let place = place % altered.len();
        altered[place] = byte;
        let _ = read(&altered, &limits);
    }

    /// The description itself altered, so that the parser and not the zip's own checksum meets the damage.
    #[test]
    fn an_altered_description_never_panics(place in 0_usize..1500, byte in any::<u8>()) {
        let sample = Sample::of("I", [2, 2, 1], i16s(&[1, 2, 3, 4]));
        let mut xml = sample.xml().into_bytes();
        let place = place % xml.len();
        xml[place] = byte;
        let bytes = pack(&[("main.xml", Some(&xml)), ("bindata/data.bin", Some(&sample.data))]);
        let _ = read(&bytes, &Limits { heights: 10_000, ..Limits::default() });
    }
}
