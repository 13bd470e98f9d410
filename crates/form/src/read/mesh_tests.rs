use proptest::prelude::*;

use super::*;

const MM: Option<LengthUnit> = Some(LengthUnit::Millimetre);

/// A tetrahedron of unit edges along the axes, once in every format.
const CORNERS: [[f32; 3]; 4] = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
const FACES: [[u32; 3]; 4] = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]];

fn ply_text() -> Vec<u8> {
    let mut text =
        "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n\
                    property uchar red\nelement face 4\nproperty list uchar int vertex_indices\nend_header\n"
            .to_owned();
    CORNERS.iter().for_each(|[x, y, z]| text.push_str(&format!("{x} {y} {z} 7\n")));
    FACES.iter().for_each(|[a, b, c]| text.push_str(&format!("3 {a} {b} {c}\n")));
    text.into_bytes()
}

fn ply_binary() -> Vec<u8> {
    let mut bytes =
        b"ply\nformat binary_little_endian 1.0\nelement vertex 4\nproperty double x\nproperty double y\n\
                      property double z\nelement face 4\nproperty list uchar uint vertex_index\nend_header\n"
            .to_vec();
    CORNERS.iter().flatten().for_each(|&c| bytes.extend(f64::from(c).to_le_bytes()));
    for face in FACES {
        bytes.push(3);
        face.iter().for_each(|corner| bytes.extend(corner.to_le_bytes()));
    }
    bytes
}

fn obj() -> Vec<u8> {
    let mut text = "mtllib none.mtl\no invented\n".to_owned();
    CORNERS.iter().for_each(|[x, y, z]| text.push_str(&format!("v {x} {y} {z}\n")));
    FACES.iter().for_each(|[a, b, c]| text.push_str(&format!("f {} {} {}\n", a + 1, b + 1, c + 1)));
    text.into_bytes()
}

fn stl_binary(header: &[u8]) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.resize(80, b' ');
    bytes.extend(4_u32.to_le_bytes());
    for face in FACES {
        bytes.extend([0; 12]);
        face.iter().flat_map(|&k| CORNERS[k as usize]).for_each(|c| bytes.extend(c.to_le_bytes()));
        bytes.extend([0; 2]);
    }
    bytes
}

fn stl_text() -> Vec<u8> {
    let mut text = "solid invented\n".to_owned();
    for face in FACES {
        text.push_str("facet normal 0 0 0\nouter loop\n");
        face.iter().for_each(|&k| {
            let [x, y, z] = CORNERS[k as usize];
            text.push_str(&format!("vertex {x} {y} {z}\n"));
        });
        text.push_str("endloop\nendfacet\n");
    }
    text.push_str("endsolid invented\n");
    text.into_bytes()
}

/// glTF as JSON with its data embedded; `count` and `offset` may lie.
fn gltf(count: usize, offset: usize) -> Vec<u8> {
    use base64::Engine;
    let mut data: Vec<u8> = CORNERS.iter().flatten().flat_map(|c| c.to_le_bytes()).collect();
    FACES.iter().flatten().for_each(|&k| data.extend((k as u16).to_le_bytes()));
    let encoded = base64::engine::general_purpose::STANDARD.encode(&data);
    format!(
        r#"{{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[0]}}],
        "nodes":[{{"mesh":0,"scale":[2,2,2]}}],
        "meshes":[{{"primitives":[{{"attributes":{{"POSITION":0}},"indices":1}}]}}],
        "accessors":[{{"bufferView":0,"componentType":5126,"count":{count},"type":"VEC3","min":[0,0,0],"max":[1,1,1]}},
        {{"bufferView":1,"byteOffset":{offset},"componentType":5123,"count":12,"type":"SCALAR"}}],
        "bufferViews":[{{"buffer":0,"byteLength":48}},{{"buffer":0,"byteOffset":48,"byteLength":24}}],
        "buffers":[{{"byteLength":{len},"uri":"data:application/octet-stream;base64,{encoded}"}}]}}"#,
        len = data.len()
    )
    .into_bytes()
}

fn every_format() -> [(&'static str, Vec<u8>); 7] {
    [
        ("text.ply", ply_text()),
        ("binary.ply", ply_binary()),
        ("a.obj", obj()),
        ("binary.stl", stl_binary(b"made up")),
        ("misleading.STL", stl_binary(b"solid but binary")),
        ("text.stl", stl_text()),
        ("a.gltf", gltf(4, 0)),
    ]
}

#[test]
fn every_format_gives_the_same_tetrahedron() {
    for (name, bytes) in every_format() {
        let read = read_mesh(&bytes, name, Some(LengthUnit::Centimetre), &Limits::default()).unwrap();
        // The glTF scene doubles its node.
        let scale = if name.ends_with("gltf") { 20.0_f64 } else { 10.0 };
        assert_eq!((read.mesh.points_mm().len(), read.mesh.triangles().len()), (4, 4), "{name}");
        assert!(read.condition.is_closed(), "{name}: {:?}", read.condition);
        let volume = read.mesh.enclosed_volume_mm3();
        assert!((volume - scale.powi(3) / 6.0).abs() < 1e-6 * volume, "{name}: {volume}");
    }
}

#[test]
fn units_are_asked_for_except_where_the_standard_says() {
    for (name, bytes) in every_format() {
        let read = read_mesh(&bytes, name, None, &Limits::default());
        if name.ends_with("gltf") {
            assert_eq!(read.unwrap().condition.size_mm, [2000.0; 3], "glTF is in metres");
        } else {
            let refused = read.unwrap_err().to_string();
            assert!(refused.contains("does not say its unit"), "{refused}");
        }
    }
    assert!(
        read_heights(b"1 2", "a.txt", None, &Limits::default()).unwrap_err().to_string().contains("state")
    );
    assert!(matches!(read_mesh(b"x", "a.doc", MM, &Limits::default()), Err(ReadError::UnknownFormat { .. })));
}

#[test]
fn lying_headers_are_refused_in_one_line() {
    let many_vertices =
        b"ply\nformat ascii 1.0\nelement vertex 4000000000\nproperty float x\nend_header\n".to_vec();
    let nothing_each = b"ply\nformat ascii 1.0\nelement thing 9000000000000\nend_header\n".to_vec();
    let points_only =
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\n\
                        end_header\n0 0 0\n"
            .to_vec();
    let mut stl_lies = stl_binary(b"x");
    stl_lies[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        ("a.ply", many_vertices, "the header promises"),
        ("a.ply", nothing_each, "the header promises"),
        ("a.ply", points_only, "a point cloud is not a mesh"),
        ("a.stl", stl_lies, "promises 4294967295 triangles"),
        ("a.gltf", gltf(4_000_000_000, 0), "reaches past the end"),
        ("a.gltf", gltf(4, 24), "reaches past the end"),
        ("a.gltf", gltf(2, 0), "corner that does not exist"),
        ("a.obj", b"v 0 0 0\nf 1 2 3\n".to_vec(), "OBJ"),
        ("a.obj", b"# nothing\n".to_vec(), "no usable triangle"),
        ("a.stl", Vec::new(), "not a single byte"),
    ];
    for (name, bytes, message) in cases {
        let refused = read_mesh(&bytes, name, MM, &Limits::default()).unwrap_err().to_string();
        assert!(refused.contains(message) && !refused.contains('\n'), "{name}: {refused}");
    }
}

#[test]
fn a_node_that_holds_itself_is_refused() {
    let looped = String::from_utf8(gltf(4, 0)).unwrap().replace(r#""scale":[2,2,2]"#, r#""children":[0]"#);
    let refused = read_mesh(looped.as_bytes(), "a.gltf", MM, &Limits::default()).unwrap_err().to_string();
    assert!(refused.contains("without end") || refused.contains("glTF"), "{refused}");
}

/// Found by random bytes: the reader's own check indexed past the end of the list.
#[test]
fn corners_that_are_kept_nowhere_are_named_so() {
    for (named, other) in [(r#""accessors""#, r#""axessors""#), (r#""POSITION":0"#, r#""POSITION":7"#)] {
        let lost = String::from_utf8(gltf(4, 0)).unwrap().replace(named, other);
        let refused = read_mesh(lost.as_bytes(), "a.gltf", MM, &Limits::default()).unwrap_err().to_string();
        assert!(refused.contains("corners that are kept nowhere"), "{refused}");
    }
}

#[test]
fn large_files_are_refused_before_they_are_read() {
    let small = Limits { triangles: 3, ..Limits::default() };
    for (name, bytes) in every_format() {
        assert!(matches!(read_mesh(&bytes, name, MM, &small), Err(ReadError::TooLarge { .. })), "{name}");
    }
    let tiny = Limits { file_bytes: 10, ..Limits::default() };
    assert!(matches!(read_mesh(&obj(), "a.obj", MM, &tiny), Err(ReadError::TooLarge { .. })));
    let missing = open_mesh(Path::new("/nowhere/at all.ply"), MM, &Limits::default());
    assert!(missing.unwrap_err().to_string().starts_with("cannot open /nowhere"));
}

#[test]
fn corners_that_are_no_numbers_cost_their_triangles_only() {
    let text = String::from_utf8(obj()).unwrap().replace("v 0 0 1", "v NaN 0 1");
    match read_mesh(text.as_bytes(), "a.obj", MM, &Limits::default()) {
        Ok(read) => assert_eq!((read.mesh.triangles().len(), read.condition.broken), (1, 3)),
        Err(refused) => assert!(refused.to_string().contains("OBJ"), "{refused}"),
    }
}

proptest! {
    #[test]
    fn cut_and_altered_meshes_never_panic(which in 0_usize..7, cut in 0_usize..1200, place in 0_usize..1200, byte in any::<u8>()) {
        let (name, whole) = every_format()[which].clone();
        let limits = Limits { triangles: 10_000, ..Limits::default() };
        let _ = read_mesh(&whole[..cut.min(whole.len())], name, MM, &limits);
        let mut altered = whole;
        let place = place % altered.len();
        altered[place] = byte;
        let _ = read_mesh(&altered, name, MM, &limits);
    }
}

/// Found by the fuzzer: the reader subtracts the header from the length unasked.
#[test]
fn a_binary_gltf_shorter_than_its_header_is_refused() {
    let bytes = b"glTF\x02\0\0\0\x03\0\0\0\x10\0\0\0JSON{}      ";
    let refused = read_mesh(bytes, "a.glb", MM, &Limits::default()).unwrap_err();
    assert!(refused.to_string().contains("shorter than the header"), "{refused}");
}
