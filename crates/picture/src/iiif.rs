//! Requests of the IIIF Image API 3.0: parsed, checked against a picture's size, written in canonical form.
//!
//! # Source
//! IIIF Image API 3.0, sections 4 (parameters), 4.7 (canonical URI) and 5 (image information). Level 2.

use std::fmt;
use std::str::FromStr;

/// Largest side that is delivered, stated as `maxWidth` in the image information: a browser window twice as wide as common screens (ours).
pub const MAX_SIDE_PX: u32 = 8192;
/// Side of the tiles offered (common practice, no source).
pub const TILE_SIDE_PX: u32 = 512;

/// Why a request cannot be answered.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RequestError {
    /// Not of a form the API knows.
    #[error("{part} '{found}' is not understood; {expected}")]
    Syntax {
        /// Which part of the request.
        part: &'static str,
        /// The text found.
        found: String,
        /// What is understood.
        expected: &'static str,
    },
    /// The region has no pixel inside the picture.
    #[error(
        "region '{found}' has no pixel inside the picture of {width} × {height} pixels; ask for a part of it"
    )]
    OutsidePicture {
        /// The region's text.
        found: String,
        /// Width in pixels.
        width: u32,
        /// Height in pixels.
        height: u32,
    },
    /// Larger than the region without the upscaling mark.
    #[error(
        "size '{found}' is larger than the region of {width} × {height} pixels; put ^ before it to enlarge"
    )]
    Upscaling {
        /// The size's text.
        found: String,
        /// Width of the region in pixels.
        width: u32,
        /// Height of the region in pixels.
        height: u32,
    },
    /// Larger than what is delivered.
    #[error("size '{found}' asks for more than {limit} pixels a side; ask for less or for tiles")]
    TooLarge {
        /// The size's text.
        found: String,
        /// Largest side in pixels.
        limit: u32,
    },
    /// Understood, but not offered.
    #[error("{part} '{found}' is not offered; {offered}")]
    NotOffered {
        /// Which part of the request.
        part: &'static str,
        /// The text found.
        found: String,
        /// What is offered.
        offered: &'static str,
    },
}

impl RequestError {
    /// HTTP status for the answer (section 6 of the API): 501 for what is valid but not offered, else 400.
    #[must_use]
    pub fn status(&self) -> u16 {
        match self {
            Self::NotOffered { .. } => 501,
            _ => 400,
        }
    }
}

/// The part of the picture asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Region {
    /// The whole picture.
    Full,
    /// The middle square.
    Square,
    /// `x, y, width, height` in pixels.
    Pixels([u32; 4]),
    /// `x, y, width, height` in percent of the picture.
    Percent([f64; 4]),
}

/// How large the answer is to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Whether `^` allows to enlarge.
    pub enlarge: bool,
    /// The measure.
    pub measure: Measure,
}

/// The measure of a [`Size`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measure {
    /// As large as delivered.
    Max,
    /// Width given, height in proportion.
    Width(u32),
    /// Height given, width in proportion.
    Height(u32),
    /// In percent of the region.
    Percent(f64),
    /// Width and height given.
    Exact(u32, u32),
    /// In proportion, within this width and height.
    Within(u32, u32),
}

/// Colours of the answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quality {
    /// As the picture is.
    Default,
    /// All colours.
    Colour,
    /// Grey.
    Grey,
}

/// File format of the answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TileFormat {
    /// JPEG.
    Jpg,
    /// PNG.
    Png,
}

impl TileFormat {
    /// Media type for the answer's header.
    #[must_use]
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Jpg => "image/jpeg",
            Self::Png => "image/png",
        }
    }
}

/// A whole request: `{region}/{size}/{rotation}/{quality}.{format}`.
#[derive(Debug, Clone, PartialEq)]
pub struct TileRequest {
    /// The part of the picture.
    pub region: Region,
    /// Size of the answer.
    pub size: Size,
    /// Clockwise quarter turns, 0 to 3.
    pub quarter_turns: u8,
    /// Colours.
    pub quality: Quality,
    /// File format.
    pub format: TileFormat,
}

/// A request worked out for a picture: what to cut and how large to deliver it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TilePlan {
    /// `x, y, width, height` in pixels, inside the picture.
    pub region: [u32; 4],
    /// Width and height of the answer before it is turned.
    pub size: [u32; 2],
    /// Clockwise quarter turns.
    pub quarter_turns: u8,
    /// Colours.
    pub quality: Quality,
    /// File format.
    pub format: TileFormat,
}

impl TileRequest {
    /// Parses the four parts of a request as they stand between the slashes; `file` is `{quality}.{format}`.
    ///
    /// # Errors
    /// [`RequestError::Syntax`] or [`RequestError::NotOffered`], naming the part.
    pub fn parse(region: &str, size: &str, rotation: &str, file: &str) -> Result<Self, RequestError> {
        let (quality, format) = parse_file(file)?;
        Ok(Self {
            region: region.parse()?,
            size: size.parse()?,
            quarter_turns: parse_rotation(rotation)?,
            quality,
            format,
        })
    }

    /// Works the request out for a picture of `width × height` pixels.
    ///
    /// # Errors
    /// [`RequestError`] if the region lies outside, or the size enlarges without `^` or is too large.
    pub fn plan(&self, width: u32, height: u32) -> Result<TilePlan, RequestError> {
        let region = self.region.resolve(width, height)?;
        let [_, _, region_width, region_height] = region;
        let size = self.size.resolve(region_width, region_height)?;
        Ok(TilePlan {
            region,
            size,
            quarter_turns: self.quarter_turns,
            quality: self.quality,
            format: self.format,
        })
    }
}

impl TilePlan {
    /// The canonical form of the request, from region to format, for a picture of `width × height` pixels.
    ///
    /// # Source
    /// IIIF Image API 3.0 section 4.7.
    #[must_use]
    pub fn canonical(&self, width: u32, height: u32) -> String {
        let [x, y, w, h] = self.region;
        let region = if [x, y, w, h] == [0, 0, width, height] {
            "full".to_owned()
        } else {
            format!("{x},{y},{w},{h}")
        };
        let [out_w, out_h] = self.size;
        let largest = fit(w, h, MAX_SIDE_PX.min(w), MAX_SIDE_PX.min(h));
        let size = match self.size {
            size if size == largest => "max".to_owned(),
            _ if out_w > w || out_h > h => format!("^{out_w},{out_h}"),
            _ => format!("{out_w},{out_h}"),
        };
        let quality = match self.quality {
            Quality::Default => "default",
            Quality::Colour => "color",
            Quality::Grey => "gray",
        };
        let format = match self.format {
            TileFormat::Jpg => "jpg",
            TileFormat::Png => "png",
        };
        format!("{region}/{size}/{}/{quality}.{format}", u32::from(self.quarter_turns) * 90)
    }
}

fn syntax(part: &'static str, found: &str, expected: &'static str) -> RequestError {
    RequestError::Syntax { part, found: found.chars().take(80).collect(), expected }
}

/// A whole number as the API writes it: digits alone.
fn whole(text: &str) -> Option<u32> {
    text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse().ok()).flatten()
}

/// A decimal number as the API writes it: digits and one point, no sign, no exponent.
fn decimal(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    plain.then(|| text.parse().ok()).flatten()
}

fn four<T: Copy>(text: &str, number: impl Fn(&str) -> Option<T>) -> Option<[T; 4]> {
    let numbers: Option<Vec<T>> = text.split(',').map(number).collect();
    numbers?.try_into().ok()
}

impl FromStr for Region {
    type Err = RequestError;

    fn from_str(text: &str) -> Result<Self, RequestError> {
        let fail = || syntax("region", text, "write full, square, x,y,w,h or pct:x,y,w,h");
        match text {
            "full" => Ok(Self::Full),
            "square" => Ok(Self::Square),
            _ => match text.strip_prefix("pct:") {
                Some(rest) => four(rest, decimal).map(Self::Percent).ok_or_else(fail),
                None => four(text, whole).map(Self::Pixels).ok_or_else(fail),
            },
        }
    }
}

impl Region {
    /// The region in whole pixels, cropped at the picture's edges.
    fn resolve(self, width: u32, height: u32) -> Result<[u32; 4], RequestError> {
        let [x, y, w, h] = match self {
            Self::Full => [0, 0, width, height],
            Self::Square => {
                let side = width.min(height);
                [(width - side) / 2, (height - side) / 2, side, side]
            }
            Self::Pixels(region) => region,
            Self::Percent([x, y, w, h]) => {
                let pixels = |percent: f64, full: u32| {
                    (percent / 100.0 * f64::from(full)).round().min(f64::from(u32::MAX)) as u32
                };
                [pixels(x, width), pixels(y, height), pixels(w, width), pixels(h, height)]
            }
        };
        let w = w.min(width.saturating_sub(x));
        let h = h.min(height.saturating_sub(y));
        if w == 0 || h == 0 {
            return Err(RequestError::OutsidePicture { found: self.to_string(), width, height });
        }
        Ok([x, y, w, h])
    }
}

impl fmt::Display for Region {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Full => f.write_str("full"),
            Self::Square => f.write_str("square"),
            Self::Pixels([x, y, w, h]) => write!(f, "{x},{y},{w},{h}"),
            Self::Percent([x, y, w, h]) => write!(f, "pct:{x},{y},{w},{h}"),
        }
    }
}

impl FromStr for Size {
    type Err = RequestError;

    fn from_str(text: &str) -> Result<Self, RequestError> {
        let fail = || {
            syntax("size", text, "write max, w, or ,h or pct:n or w,h or !w,h, with ^ before it to enlarge")
        };
        let (enlarge, rest) = text.strip_prefix('^').map_or((false, text), |rest| (true, rest));
        let pair = |text: &str| text.split_once(',').map(|(w, h)| (w.to_owned(), h.to_owned()));
        let measure = if rest == "max" {
            Measure::Max
        } else if let Some(percent) = rest.strip_prefix("pct:") {
            Measure::Percent(decimal(percent).ok_or_else(fail)?)
        } else if let Some(within) = rest.strip_prefix('!') {
            let (w, h) = pair(within).ok_or_else(fail)?;
            Measure::Within(whole(&w).ok_or_else(fail)?, whole(&h).ok_or_else(fail)?)
        } else {
            let (w, h) = pair(rest).ok_or_else(fail)?;
            match (w.is_empty(), h.is_empty()) {
                (false, true) => Measure::Width(whole(&w).ok_or_else(fail)?),
                (true, false) => Measure::Height(whole(&h).ok_or_else(fail)?),
                (false, false) => Measure::Exact(whole(&w).ok_or_else(fail)?, whole(&h).ok_or_else(fail)?),
                (true, true) => return Err(fail()),
            }
        };
        Ok(Self { enlarge, measure })
    }
}

impl Size {
    /// Width and height of the answer for a region of `width × height` pixels.
    fn resolve(self, width: u32, height: u32) -> Result<[u32; 2], RequestError> {
        let in_proportion = |known: u32, known_full: u32, other_full: u32| {
            (f64::from(known) * f64::from(other_full) / f64::from(known_full)).round() as u32
        };
        let [w, h] = match self.measure {
            Measure::Max if self.enlarge => fit(width, height, MAX_SIDE_PX, MAX_SIDE_PX),
            Measure::Max => fit(width, height, MAX_SIDE_PX.min(width), MAX_SIDE_PX.min(height)),
            Measure::Width(w) => [w, in_proportion(w, width, height)],
            Measure::Height(h) => [in_proportion(h, height, width), h],
            Measure::Percent(percent) => [width, height]
                .map(|side| (f64::from(side) * percent / 100.0).round().min(f64::from(u32::MAX)) as u32),
            Measure::Exact(w, h) => [w, h],
            Measure::Within(w, h) if self.enlarge => fit(width, height, w, h),
            Measure::Within(w, h) => fit(width, height, w.min(width), h.min(height)),
        };
        // A side that rounds to nothing is one pixel, but a size of nothing was not meant.
        let nothing = match self.measure {
            Measure::Width(0)
            | Measure::Height(0)
            | Measure::Exact(0, _)
            | Measure::Exact(_, 0)
            | Measure::Within(0, _)
            | Measure::Within(_, 0) => true,
            Measure::Percent(percent) => percent <= 0.0,
            _ => false,
        };
        if nothing {
            return Err(syntax("size", &self.to_string(), "give at least one pixel"));
        }
        let [w, h] = [w.max(1), h.max(1)];
        if !self.enlarge && (w > width || h > height) {
            return Err(RequestError::Upscaling { found: self.to_string(), width, height });
        }
        if w > MAX_SIDE_PX || h > MAX_SIDE_PX {
            return Err(RequestError::TooLarge { found: self.to_string(), limit: MAX_SIDE_PX });
        }
        Ok([w, h])
    }
}

/// The largest size in proportion to `width × height` within `max_width × max_height`.
fn fit(width: u32, height: u32, max_width: u32, max_height: u32) -> [u32; 2] {
    let factor = (f64::from(max_width) / f64::from(width)).min(f64::from(max_height) / f64::from(height));
    let side = |full: u32, limit: u32| ((f64::from(full) * factor).round() as u32).min(limit).max(1);
    [side(width, max_width), side(height, max_height)]
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.enlarge {
            f.write_str("^")?;
        }
        match self.measure {
            Measure::Max => f.write_str("max"),
            Measure::Width(w) => write!(f, "{w},"),
            Measure::Height(h) => write!(f, ",{h}"),
            Measure::Percent(percent) => write!(f, "pct:{percent}"),
            Measure::Exact(w, h) => write!(f, "{w},{h}"),
            Measure::Within(w, h) => write!(f, "!{w},{h}"),
        }
    }
}

fn parse_rotation(text: &str) -> Result<u8, RequestError> {
    const OFFERED: &str = "quarter turns (0, 90, 180, 270) are";
    let (mirrored, number) = text.strip_prefix('!').map_or((false, text), |rest| (true, rest));
    let degrees = decimal(number).filter(|degrees| (0.0..=360.0).contains(degrees));
    let degrees = degrees.ok_or_else(|| syntax("rotation", text, "write degrees from 0 to 360"))?;
    if mirrored || degrees % 90.0 != 0.0 {
        return Err(RequestError::NotOffered { part: "rotation", found: text.to_owned(), offered: OFFERED });
    }
    Ok((degrees / 90.0) as u8 % 4)
}

fn parse_file(text: &str) -> Result<(Quality, TileFormat), RequestError> {
    let (quality, format) = text
        .rsplit_once('.')
        .ok_or_else(|| syntax("quality", text, "write quality.format, as in default.jpg"))?;
    let not_offered =
        |part, found: &str, offered| RequestError::NotOffered { part, found: found.to_owned(), offered };
    let quality = match quality {
        "default" => Quality::Default,
        "color" => Quality::Colour,
        "gray" => Quality::Grey,
        "bitonal" => return Err(not_offered("quality", quality, "default, color and gray are")),
        _ => return Err(syntax("quality", quality, "write default, color or gray")),
    };
    let format = match format {
        "jpg" => TileFormat::Jpg,
        "png" => TileFormat::Png,
        "tif" | "gif" | "jp2" | "pdf" | "webp" => {
            return Err(not_offered("format", format, "jpg and png are"));
        }
        _ => return Err(syntax("format", format, "write jpg or png")),
    };
    Ok((quality, format))
}

/// Values of the image information document (`info.json`), to be written with the address it is served at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImageInfo {
    /// `@context`.
    pub context: &'static str,
    /// `type`.
    pub kind: &'static str,
    /// `protocol`.
    pub protocol: &'static str,
    /// `profile`.
    pub profile: &'static str,
    /// `width` in pixels.
    pub width: u32,
    /// `height` in pixels.
    pub height: u32,
    /// `maxWidth` in pixels.
    pub max_width: u32,
    /// `tiles[0].width` in pixels; tiles are square.
    pub tile_width: u32,
    /// `tiles[0].scaleFactors`.
    pub scale_factors: Vec<u32>,
    /// `sizes`: width and height of the whole picture at each scale factor above what `maxWidth` forbids.
    pub sizes: Vec<[u32; 2]>,
    /// `extraQualities`.
    pub extra_qualities: &'static [&'static str],
    /// `extraFormats`.
    pub extra_formats: &'static [&'static str],
}

/// The image information of a picture of `width × height` pixels.
///
/// # Source
/// IIIF Image API 3.0 section 5; compliance level 2.
#[must_use]
pub fn image_info(width: u32, height: u32) -> ImageInfo {
    let longer = width.max(height);
    let mut scale_factors = vec![1];
    while let Some(next) = scale_factors
        .last()
        .map(|last| last * 2)
        .filter(|next| longer > TILE_SIDE_PX * (next / 2) && *next <= 1 << 16)
    {
        scale_factors.push(next);
    }
    let size = |factor: &u32| [width.div_ceil(*factor), height.div_ceil(*factor)];
    let mut sizes: Vec<[u32; 2]> =
        scale_factors.iter().map(size).filter(|[w, h]| *w <= MAX_SIDE_PX && *h <= MAX_SIDE_PX).collect();
    sizes.reverse();
    ImageInfo {
        context: "http://iiif.io/api/image/3/context.json",
        kind: "ImageService3",
        protocol: "http://iiif.io/api/image",
        profile: "level2",
        width,
        height,
        max_width: MAX_SIDE_PX,
        tile_width: TILE_SIDE_PX,
        scale_factors,
        sizes,
        extra_qualities: &["color", "gray"],
        extra_formats: &["png"],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(region: &str, size: &str, picture: (u32, u32)) -> Result<TilePlan, RequestError> {
        TileRequest::parse(region, size, "0", "default.jpg")?.plan(picture.0, picture.1)
    }

    /// IIIF Image API 3.0 section 4.1, the examples on a picture of 300 × 200 pixels.
    #[test]
    fn regions_of_the_specification() {
        for (region, expected) in [
            ("full", [0, 0, 300, 200]),
            ("square", [50, 0, 200, 200]),
            ("125,15,120,140", [125, 15, 120, 140]),
            ("pct:41.6,7.5,40,70", [125, 15, 120, 140]),
            ("125,15,200,200", [125, 15, 175, 185]),
            ("pct:41.6,7.5,66.6,100", [125, 15, 175, 185]),
        ] {
            assert_eq!(plan(region, "max", (300, 200)).unwrap().region, expected, "{region}");
        }
    }

    /// IIIF Image API 3.0 section 4.2, the examples on a picture of 300 × 200 pixels (there with a server limit, here without reaching ours).
    #[test]
    fn sizes_of_the_specification() {
        for (size, expected) in [
            ("max", [300, 200]),
            ("150,", [150, 100]),
            ("^360,", [360, 240]),
            (",150", [225, 150]),
            ("^,240", [360, 240]),
            ("pct:50", [150, 100]),
            ("^pct:120", [360, 240]),
            ("225,100", [225, 100]),
            ("^360,360", [360, 360]),
            ("!225,100", [150, 100]),
            ("^!360,360", [360, 240]),
            ("!400,400", [300, 200]),
        ] {
            assert_eq!(plan("full", size, (300, 200)).unwrap().size, expected, "{size}");
        }
    }

    #[test]
    fn enlarging_needs_its_mark() {
        for size in ["301,", ",201", "pct:101", "301,10", "10,201"] {
            let error = plan("full", size, (300, 200)).unwrap_err();
            assert!(matches!(error, RequestError::Upscaling { .. }), "{size}: {error}");
            assert_eq!(error.status(), 400);
        }
        assert!(matches!(plan("full", "^9000,", (300, 200)), Err(RequestError::TooLarge { .. })));
    }

    #[test]
    fn nonsense_is_refused() {
        for region in [
            "",
            "1,2,3",
            "1,2,3,4,5",
            "-1,0,5,5",
            "1.5,0,5,5",
            "pct:",
            "pct:1,2,3",
            "pct:-1,0,5,5",
            "pct:1e9,0,5,5",
            "300,0,5,5",
            "0,0,0,5",
            "pct:NaN,0,1,1",
            "Full",
        ] {
            assert_eq!(plan(region, "max", (300, 200)).unwrap_err().status(), 400, "{region}");
        }
        for size in
            ["", ",", "0,", ",0", "0,5", "pct:0", "pct:", "!5", "!0,5", "^", "-5,", "5.5,", "full", "+5,"]
        {
            assert_eq!(plan("full", size, (300, 200)).unwrap_err().status(), 400, "{size}");
        }
        for (rotation, status) in
            [("45", 501), ("!0", 501), ("x", 400), ("-90", 400), ("361", 400), ("", 400)]
        {
            assert_eq!(
                TileRequest::parse("full", "max", rotation, "default.jpg").unwrap_err().status(),
                status,
                "{rotation}"
            );
        }
        for (file, status) in [
            ("default", 400),
            ("default.", 400),
            ("native.jpg", 400),
            ("default.webp", 501),
            ("bitonal.png", 501),
            ("default.exe", 400),
        ] {
            assert_eq!(TileRequest::parse("full", "max", "0", file).unwrap_err().status(), status, "{file}");
        }
    }

    /// IIIF Image API 3.0 section 4.7: canonical region is `full` or pixels, size `max` or `w,h`, quality as asked.
    #[test]
    fn canonical_form() {
        for (region, size, expected) in [
            ("0,0,300,200", "300,", "full/max/0/default.jpg"),
            ("pct:0,0,100,100", "pct:50", "full/150,100/0/default.jpg"),
            ("125,15,200,200", "max", "125,15,175,185/max/0/default.jpg"),
            ("full", "^600,", "full/^600,400/0/default.jpg"),
        ] {
            assert_eq!(plan(region, size, (300, 200)).unwrap().canonical(300, 200), expected);
        }
    }

    #[test]
    fn information_names_the_scale_factors() {
        let info = image_info(6000, 4000);
        assert_eq!(info.scale_factors, [1, 2, 4, 8, 16]);
        assert_eq!(info.sizes, [[375, 250], [750, 500], [1500, 1000], [3000, 2000], [6000, 4000]]);
        assert_eq!(image_info(512, 3).scale_factors, [1]);
        assert_eq!(image_info(1, 1).sizes, [[1, 1]]);
        assert_eq!(image_info(u32::MAX, 1).scale_factors.len(), 17);
    }
}
