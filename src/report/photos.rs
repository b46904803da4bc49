//! Photos of the record: read within limits, turned upright, made small, freed of everything but
//! the picture.
//!
//! A camera writes where and when a picture was taken, and with what, into the file. None of that
//! goes into a report: the picture is decoded and encoded anew.

use std::io::Cursor;
use std::path::{Component, Path};

use base64::Engine as _;
use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};

use crate::record::model::Record;
use crate::source::{Problem, Problems};

/// Greatest file, bytes.
const FILE_BYTES: u64 = 40 << 20;
/// Greatest side, pixels.
const SIDE: u32 = 16_384;
/// Greatest number of pixels; a small file can unfold to billions.
const PIXELS: u64 = 80_000_000;
/// Memory a decoder may ask for, bytes.
const MEMORY: u64 = 400 << 20;
/// Longest side of what is shown, pixels.
const SHOWN: u32 = 1200;
/// JPEG quality of what is shown, 1 to 100.
const QUALITY: u8 = 78;

/// A photo of the record, ready for the page or with the reason why not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    /// Number through the whole report, from 1.
    pub number: usize,
    /// Defect it shows.
    pub defect: u32,
    /// File as named in the record.
    pub file: String,
    /// What it shows, in the inspector's words.
    pub caption: String,
    /// The picture, or what is wrong with it.
    pub picture: Result<Picture, PhotoError>,
}

/// A cleaned picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Width, pixels.
    pub width: u32,
    /// Height, pixels.
    pub height: u32,
    /// JPEG bytes without any metadata.
    pub jpeg: Vec<u8>,
}

impl Picture {
    /// As a `data:` address.
    pub fn uri(&self) -> String {
        let mut uri = String::from("data:image/jpeg;base64,");
        base64::engine::general_purpose::STANDARD.encode_string(&self.jpeg, &mut uri);
        uri
    }
}

/// Why a photo can't be shown.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhotoError {
    /// The name leads out of the record's folder.
    #[error("the photo lies outside the record's folder")]
    Outside,
    /// There is no such file, or it can't be read.
    #[error("the photo was not found or can't be read")]
    Missing,
    /// More bytes or pixels than a photo has.
    #[error("the photo is too large")]
    TooLarge,
    /// Neither a JPEG nor a PNG, or damaged.
    #[error("the photo is not a whole JPEG or PNG picture")]
    Broken,
}

impl PhotoError {
    fn code(&self) -> &'static str {
        match self {
            PhotoError::Outside => "photo-outside",
            PhotoError::Missing => "photo-missing",
            PhotoError::TooLarge => "photo-too-large",
            PhotoError::Broken => "photo-broken",
        }
    }

    fn hint(&self) -> &'static str {
        match self {
            PhotoError::Outside => "put the photo in the record's folder and write its name alone",
            PhotoError::Missing => {
                "check the name, with its ending, and that the file lies beside the record"
            }
            PhotoError::TooLarge => "save it smaller: 4000 pixels on the long side are plenty",
            PhotoError::Broken => "copy it from the camera again, or save it as JPEG",
        }
    }
}

/// Reads every photo of a record that lies in `folder`. What can't be shown is kept with its
/// reason and added to `problems` as a warning.
pub fn load(folder: &Path, record: &Record, problems: &mut Problems) -> Vec<Photo> {
    let wanted: Vec<(u32, &str, &str)> = record
        .areas
        .iter()
        .flat_map(|a| &a.defects)
        .flat_map(|d| {
            d.photos
                .iter()
                .map(move |p| (d.id, p.file.as_str(), p.caption.as_str()))
        })
        .collect();
    let mut photos: Vec<Photo> = wanted
        .iter()
        .enumerate()
        .map(|(i, (defect, file, caption))| Photo {
            number: i + 1,
            defect: *defect,
            file: (*file).to_owned(),
            caption: (*caption).to_owned(),
            picture: Err(PhotoError::Missing),
        })
        .collect();
    // Decoding is the slow part; half of the photos each on two threads.
    let half = photos.len().div_ceil(2);
    if photos.len() > 1 {
        let (first, second) = photos.split_at_mut(half);
        std::thread::scope(|scope| {
            scope.spawn(|| fill(folder, second));
            fill(folder, first);
        });
    } else {
        fill(folder, &mut photos);
    }
    for photo in &photos {
        if let Err(error) = &photo.picture {
            problems.push(
                Problem::warning(
                    error.code(),
                    format!(
                        "photo {} of defect {} (`{}`): {error}",
                        photo.number, photo.defect, photo.file
                    ),
                )
                .hint(error.hint()),
            );
        }
    }
    photos
}

fn fill(folder: &Path, photos: &mut [Photo]) {
    for photo in photos {
        photo.picture = read(folder, &photo.file);
    }
}

/// Reads one photo from the record's folder.
///
/// # Errors
/// When the name leads out of the folder, the file is missing, too large or no picture.
pub fn read(folder: &Path, file: &str) -> Result<Picture, PhotoError> {
    let name = Path::new(file);
    if file.is_empty()
        || !name
            .components()
            .all(|c| matches!(c, Component::Normal(_) | Component::CurDir))
    {
        return Err(PhotoError::Outside);
    }
    let path = folder.join(name);
    // A link could lead out even where the name does not.
    let real = path.canonicalize().map_err(|_| PhotoError::Missing)?;
    let home = folder.canonicalize().map_err(|_| PhotoError::Missing)?;
    if !real.starts_with(&home) {
        return Err(PhotoError::Outside);
    }
    let about = std::fs::metadata(&real).map_err(|_| PhotoError::Missing)?;
    if !about.is_file() {
        return Err(PhotoError::Missing);
    }
    if about.len() > FILE_BYTES {
        return Err(PhotoError::TooLarge);
    }
    let bytes = std::fs::read(&real).map_err(|_| PhotoError::Missing)?;
    clean(&bytes)
}

/// Decodes, turns upright, scales and encodes a picture anew.
///
/// # Errors
/// When it is too large or no whole JPEG or PNG.
pub fn clean(bytes: &[u8]) -> Result<Picture, PhotoError> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|_| PhotoError::Broken)?;
    if !matches!(reader.format(), Some(ImageFormat::Jpeg | ImageFormat::Png)) {
        return Err(PhotoError::Broken);
    }
    let mut limits = Limits::default();
    limits.max_image_width = Some(SIDE);
    limits.max_image_height = Some(SIDE);
    limits.max_alloc = Some(MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(|e| kind(&e))?;
    let (w, h) = decoder.dimensions();
    if u64::from(w) * u64::from(h) > PIXELS {
        return Err(PhotoError::TooLarge);
    }
    if w == 0 || h == 0 {
        return Err(PhotoError::Broken);
    }
    let upright = decoder.orientation().map_err(|e| kind(&e))?;
    let mut picture = DynamicImage::from_decoder(decoder).map_err(|e| kind(&e))?;
    if w.max(h) > SHOWN {
        picture = picture.thumbnail(SHOWN, SHOWN);
    }
    picture.apply_orientation(upright);
    let flat = flatten(picture);
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY)
        .encode_image(&flat)
        .map_err(|_| PhotoError::Broken)?;
    Ok(Picture {
        width: flat.width(),
        height: flat.height(),
        jpeg,
    })
}

/// Lays a see-through picture on white, since JPEG knows no transparency.
fn flatten(picture: DynamicImage) -> image::RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let rgba = picture.into_rgba8();
    let mut rgb = image::RgbImage::new(rgba.width(), rgba.height());
    for (to, from) in rgb.pixels_mut().zip(rgba.pixels()) {
        let [r, g, b, a] = from.0;
        let over = |c: u8| {
            let mixed = (u32::from(c) * u32::from(a) + 255 * (255 - u32::from(a)) + 127) / 255;
            u8::try_from(mixed).unwrap_or(u8::MAX)
        };
        to.0 = [over(r), over(g), over(b)];
    }
    rgb
}

fn kind(error: &image::ImageError) -> PhotoError {
    match error {
        image::ImageError::Limits(_) => PhotoError::TooLarge,
        _ => PhotoError::Broken,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    /// A JPEG, 40 by 20, left half red; with an EXIF block that asks for a quarter turn and names
    /// a maker and a place.
    fn camera_jpeg() -> Vec<u8> {
        let picture = RgbImage::from_fn(40, 20, |x, _| {
            if x < 20 {
                Rgb([200, 20, 20])
            } else {
                Rgb([240, 240, 240])
            }
        });
        let mut plain = Vec::new();
        JpegEncoder::new_with_quality(&mut plain, 95)
            .encode_image(&picture)
            .unwrap();
        // TIFF, little-endian, one directory with orientation 6 (0x0112) and maker text (0x010f).
        let mut tiff: Vec<u8> = b"II*\0\x08\0\0\0\x02\0".to_vec();
        tiff.extend([0x0f, 0x01, 2, 0, 20, 0, 0, 0, 38, 0, 0, 0]);
        tiff.extend([0x12, 0x01, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0]);
        tiff.extend([0, 0, 0, 0]);
        tiff.extend(b"InventedMaker GPS52\0");
        let mut app1: Vec<u8> = b"Exif\0\0".to_vec();
        app1.extend(tiff);
        let mut out = plain[..2].to_vec();
        out.extend([0xff, 0xe1]);
        out.extend(u16::try_from(app1.len() + 2).unwrap().to_be_bytes());
        out.extend(app1);
        out.extend([0xff, 0xe2]);
        out.extend(u16::try_from(2 + 16).unwrap().to_be_bytes());
        out.extend(b"ICC_PROFILE\0\x01\x01ab");
        out.extend(&plain[2..]);
        out
    }

    fn holds(bytes: &[u8], part: &[u8]) -> bool {
        bytes.windows(part.len()).any(|w| w == part)
    }

    #[test]
    fn pictures_are_turned_upright_and_freed_of_what_the_camera_wrote() {
        let from = camera_jpeg();
        for part in [&b"Exif"[..], b"InventedMaker", b"ICC_PROFILE"] {
            assert!(
                holds(&from, part),
                "the test picture must hold what is to be removed"
            );
        }
        let picture = clean(&from).unwrap();
        assert_eq!(
            (picture.width, picture.height),
            (20, 40),
            "orientation 6 is a quarter turn"
        );
        for part in [
            &b"Exif"[..],
            b"InventedMaker",
            b"GPS",
            b"ICC_PROFILE",
            b"II*\0",
            b"MM\0*",
            b"http",
        ] {
            assert!(
                !holds(&picture.jpeg, part),
                "{:?} is still there",
                String::from_utf8_lossy(part)
            );
        }
        // No application segment but the plain JFIF header.
        assert!(!holds(&picture.jpeg, &[0xff, 0xe1]) && !holds(&picture.jpeg, &[0xff, 0xe2]));
        // Turned clockwise, the red left half comes to the top.
        let shown = image::load_from_memory(&picture.jpeg).unwrap().into_rgb8();
        assert!(shown.get_pixel(10, 5).0[1] < 90 && shown.get_pixel(10, 35).0[1] > 200);
    }

    #[test]
    fn large_pictures_are_made_small_and_small_ones_left() {
        let mut png = Vec::new();
        RgbImage::from_pixel(2400, 600, Rgb([9, 99, 9]))
            .write_to(&mut Cursor::new(&mut png), ImageFormat::Png)
            .unwrap();
        let picture = clean(&png).unwrap();
        assert_eq!((picture.width, picture.height), (1200, 300));
        assert_eq!(clean(&camera_jpeg()).map(|p| p.width), Ok(20));
    }

    #[test]
    fn a_bomb_is_refused_before_it_unfolds() {
        // A PNG header that promises 16000 by 16000 pixels in a few bytes.
        let mut png = Vec::new();
        RgbImage::from_pixel(1, 1, Rgb([0, 0, 0]))
            .write_to(&mut Cursor::new(&mut png), ImageFormat::Png)
            .unwrap();
        let size = 16_000_u32.to_be_bytes();
        png[16..20].copy_from_slice(&size);
        png[20..24].copy_from_slice(&size);
        // The header's checksum (CRC-32, ISO 3309) must fit, or it is refused for that.
        let crc = crc32(&png[12..29]).to_be_bytes();
        png[29..33].copy_from_slice(&crc);
        assert_eq!(clean(&png), Err(PhotoError::TooLarge));
    }

    fn crc32(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |crc, b| {
            (0..8).fold(crc ^ u32::from(*b), |c, _| {
                if c & 1 == 1 {
                    c >> 1 ^ 0xedb8_8320
                } else {
                    c >> 1
                }
            })
        })
    }

    #[test]
    fn what_is_no_picture_is_named() {
        assert_eq!(clean(b"not a picture"), Err(PhotoError::Broken));
        assert_eq!(clean(&camera_jpeg()[..300]), Err(PhotoError::Broken));
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read(folder.path(), "../x.jpg"), Err(PhotoError::Outside));
        assert_eq!(
            read(folder.path(), "/etc/hostname"),
            Err(PhotoError::Outside)
        );
        assert_eq!(read(folder.path(), "none.jpg"), Err(PhotoError::Missing));
        assert_eq!(read(folder.path(), "."), Err(PhotoError::Missing));
    }
}
