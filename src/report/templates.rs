//! Templates of the papers: the built-in ones, with those of the contractor's own folder before
//! them, and his letterhead.

use std::io::Read;
use std::path::Path;

use base64::Engine as _;
use serde::{Deserialize, Serialize};

/// Greatest template, bytes.
const FILE_BYTES: u64 = 4 << 20;
/// Most files in a folder of templates.
const FILES: usize = 200;
/// Greatest side of a logo, pixels.
const LOGO_SIDE: u32 = 6000;
/// Name of the letterhead in a folder of templates.
const LETTERHEAD: &str = "letterhead.yaml";

macro_rules! built_in {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_str!(concat!("../../templates/", $name)))),*]
    };
}

const BUILT_IN: &[(&str, &str)] = built_in![
    "base.typ",
    "report.typ",
    "proposal.typ",
    "crew.typ",
    "compare.typ",
    "plan.typ",
    "base.html",
    "parts.html",
    "report.html",
    "report.css",
    "papers.css",
    "proposal.html",
    "crew.html",
    "compare.html",
    "plan.html",
];

/// A template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Template {
    /// Name by which others include it, such as `report.html`.
    pub name: String,
    /// Its text.
    pub text: String,
    /// Its name in messages: the path where it is the contractor's.
    pub shown: String,
}

/// All templates of a run.
#[derive(Debug, Clone)]
pub struct Templates {
    list: Vec<Template>,
    /// Letterhead found in the contractor's folder.
    pub letterhead: Option<Letterhead>,
}

/// What can't be used of a contractor's folder.
#[derive(Debug, thiserror::Error)]
pub enum TemplateError {
    /// It can't be read.
    #[error("can't read {file}: {why}")]
    Unreadable {
        /// File or folder.
        file: String,
        /// Why.
        why: String,
    },
    /// Nothing in it has the name of a template.
    #[error(
        "{folder} holds no template and no {LETTERHEAD}\n  hint: a template takes the place of the built-in one of the same name: {names}"
    )]
    Empty {
        /// Folder.
        folder: String,
        /// Names that count.
        names: String,
    },
    /// More files than a folder of templates has.
    #[error(
        "{folder} holds more than {FILES} templates\n  hint: name a folder that holds your templates and nothing else"
    )]
    TooMany {
        /// Folder.
        folder: String,
    },
    /// A link in the folder leads out of it.
    #[error("{file} leads out of its folder\n  hint: copy the file itself into the folder")]
    Outside {
        /// The link.
        file: String,
    },
    /// The letterhead is broken.
    #[error("the letterhead {file} is broken: {why}\n  hint: {hint}")]
    Letterhead {
        /// File.
        file: String,
        /// What is wrong.
        why: String,
        /// What may mend it.
        hint: &'static str,
    },
}

impl Default for Templates {
    fn default() -> Self {
        Templates {
            list: BUILT_IN
                .iter()
                .map(|(name, text)| Template {
                    name: (*name).to_owned(),
                    text: (*text).to_owned(),
                    shown: (*name).to_owned(),
                })
                .collect(),
            letterhead: None,
        }
    }
}

impl Templates {
    /// The built-in templates with those of a folder before them. Files of other names may be
    /// included by them.
    ///
    /// # Errors
    /// When the folder can't be read, holds nothing of use, or its letterhead is broken.
    pub fn load(folder: &Path) -> Result<Templates, TemplateError> {
        let mut templates = Templates::default();
        let mut used = false;
        let unreadable = |path: &Path, why: String| TemplateError::Unreadable {
            file: path.display().to_string(),
            why,
        };
        let mut paths = Vec::new();
        for entry in std::fs::read_dir(folder).map_err(|e| unreadable(folder, e.to_string()))? {
            let path = entry.map_err(|e| unreadable(folder, e.to_string()))?.path();
            let known = path
                .extension()
                .is_some_and(|e| e == "typ" || e == "html" || e == "css");
            if known && path.is_file() {
                if paths.len() == FILES {
                    return Err(TemplateError::TooMany {
                        folder: folder.display().to_string(),
                    });
                }
                paths.push(path);
            }
        }
        paths.sort();
        for path in paths {
            let Some(name) = path.file_name().and_then(|n| n.to_str()) else {
                continue;
            };
            inside(folder, &path)?;
            let template = Template {
                name: name.to_owned(),
                text: read(&path)?,
                shown: path.display().to_string(),
            };
            used |= templates.lay(template);
        }
        let letterhead = folder.join(LETTERHEAD);
        if letterhead.is_file() {
            inside(folder, &letterhead)?;
            templates.letterhead = Some(Letterhead::load(&letterhead)?);
            used = true;
        }
        if !used {
            return Err(TemplateError::Empty {
                folder: folder.display().to_string(),
                names: BUILT_IN
                    .iter()
                    .map(|(name, _)| *name)
                    .collect::<Vec<_>>()
                    .join(", "),
            });
        }
        Ok(templates)
    }

    /// Lays one template over these. True where one of its name was there already.
    pub fn lay(&mut self, template: Template) -> bool {
        match self.list.iter_mut().find(|t| t.name == template.name) {
            Some(there) => {
                *there = template;
                true
            }
            None => {
                self.list.push(template);
                false
            }
        }
    }

    /// A template by name.
    pub fn get(&self, name: &str) -> Option<&Template> {
        self.list.iter().find(|t| t.name == name)
    }

    /// Templates of pages.
    pub fn pages(&self) -> impl Iterator<Item = &Template> {
        self.list.iter().filter(|t| t.name.ends_with(".html"))
    }

    /// Templates of typeset papers.
    pub fn typeset(&self) -> impl Iterator<Item = &Template> {
        self.list.iter().filter(|t| t.name.ends_with(".typ"))
    }
}

/// Refuses a file that a link takes out of its folder: a folder that was sent to someone must not
/// bring his other files into a paper.
fn inside(folder: &Path, path: &Path) -> Result<(), TemplateError> {
    let real = |path: &Path| {
        path.canonicalize().map_err(|e| TemplateError::Unreadable {
            file: path.display().to_string(),
            why: e.to_string(),
        })
    };
    if real(path)?.starts_with(real(folder)?) {
        return Ok(());
    }
    Err(TemplateError::Outside {
        file: path.display().to_string(),
    })
}

/// The bytes of a file of at most `most` bytes. What has no size, such as a pipe, is no file.
pub(super) fn bytes_within(path: &Path, most: u64) -> Result<Vec<u8>, String> {
    let about = std::fs::metadata(path).map_err(|e| e.to_string())?;
    if !about.is_file() {
        return Err("it is no file".to_owned());
    }
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        .map_err(|e| e.to_string())?;
    if bytes.len() as u64 > most {
        return Err(format!("it has more than {} MB", most >> 20));
    }
    Ok(bytes)
}

fn read(path: &Path) -> Result<String, TemplateError> {
    bytes_within(path, FILE_BYTES)
        .and_then(|bytes| String::from_utf8(bytes).map_err(|_| "it is not UTF-8 text".to_owned()))
        .map_err(|why| TemplateError::Unreadable {
            file: path.display().to_string(),
            why,
        })
}

/// The contractor's name, address and logo at the head of a paper.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Letterhead {
    /// Name of the house.
    pub name: String,
    /// Address, telephone, licence: a line each.
    pub lines: Vec<String>,
    /// Logo.
    #[serde(skip)]
    pub logo: Option<Logo>,
}

/// A logo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Logo {
    /// Format.
    pub kind: LogoKind,
    /// The file.
    pub bytes: Vec<u8>,
}

/// Format of a logo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogoKind {
    /// PNG.
    Png,
    /// JPEG.
    Jpeg,
    /// SVG.
    Svg,
}

impl LogoKind {
    /// The logo's file name among a paper's files.
    pub fn file(self) -> &'static str {
        match self {
            LogoKind::Png => "logo.png",
            LogoKind::Jpeg => "logo.jpg",
            LogoKind::Svg => "logo.svg",
        }
    }

    fn media(self) -> &'static str {
        match self {
            LogoKind::Png => "image/png",
            LogoKind::Jpeg => "image/jpeg",
            LogoKind::Svg => "image/svg+xml",
        }
    }
}

impl Logo {
    /// As a `data:` address, for an `img` element (where nothing in an SVG can run).
    pub fn uri(&self) -> String {
        let mut uri = format!("data:{};base64,", self.kind.media());
        base64::engine::general_purpose::STANDARD.encode_string(&self.bytes, &mut uri);
        uri
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct LetterheadFile {
    name: String,
    #[serde(default)]
    lines: Vec<String>,
    #[serde(default)]
    logo: Option<String>,
}

impl Letterhead {
    /// Reads a letterhead; its logo lies in the same folder.
    ///
    /// # Errors
    /// When the file or the logo can't be read or is broken.
    pub fn load(path: &Path) -> Result<Letterhead, TemplateError> {
        let broken = |why: String, hint: &'static str| TemplateError::Letterhead {
            file: path.display().to_string(),
            why,
            hint,
        };
        let file: LetterheadFile = serde_yaml::from_str(&read(path)?).map_err(|e| {
            broken(
                e.to_string(),
                "write `name:`, a list of `lines:` and, if you have one, `logo: file.png`",
            )
        })?;
        if file.lines.len() > 8 {
            return Err(broken(
                format!("{} lines", file.lines.len()),
                "a letterhead has room for eight lines",
            ));
        }
        let logo = match &file.logo {
            None => None,
            Some(name) => {
                let plain = Path::new(name)
                    .components()
                    .all(|c| matches!(c, std::path::Component::Normal(_)));
                if !plain {
                    return Err(broken(
                        format!("the logo `{name}` lies outside the letterhead's folder"),
                        "put the logo beside the letterhead and write its name alone",
                    ));
                }
                let home = match path.parent() {
                    Some(parent) if !parent.as_os_str().is_empty() => parent,
                    _ => Path::new("."),
                };
                let at = home.join(name);
                if at.is_file() {
                    inside(home, &at)?;
                }
                Some(logo(&at).map_err(|why| {
                    broken(
                        format!("the logo `{name}` {why}"),
                        "save it as PNG, JPEG or SVG, at most 4 MB",
                    )
                })?)
            }
        };
        Ok(Letterhead {
            name: file.name,
            lines: file.lines,
            logo,
        })
    }
}

fn logo(path: &Path) -> Result<Logo, String> {
    let bytes = bytes_within(path, FILE_BYTES).map_err(|e| format!("can't be read: {e}"))?;
    if path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("svg"))
    {
        return match std::str::from_utf8(&bytes) {
            Ok(text) if text.contains("<svg") => Ok(Logo {
                kind: LogoKind::Svg,
                bytes,
            }),
            _ => Err("is not an SVG drawing".to_owned()),
        };
    }
    let mut reader = image::ImageReader::new(std::io::Cursor::new(&bytes))
        .with_guessed_format()
        .map_err(|e| e.to_string())?;
    let kind = match reader.format() {
        Some(image::ImageFormat::Png) => LogoKind::Png,
        Some(image::ImageFormat::Jpeg) => LogoKind::Jpeg,
        _ => return Err("is neither PNG nor JPEG nor SVG".to_owned()),
    };
    let mut limits = image::Limits::default();
    limits.max_image_width = Some(LOGO_SIDE);
    limits.max_image_height = Some(LOGO_SIDE);
    reader.limits(limits);
    reader
        .decode()
        .map_err(|_| "is damaged or too large".to_owned())?;
    Ok(Logo { kind, bytes })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_takes_the_place_of_the_built_in_template_of_the_same_name() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("report.html"), "mine").unwrap();
        std::fs::write(folder.path().join("footer.html"), "also").unwrap();
        let templates = Templates::load(folder.path()).unwrap();
        assert_eq!(templates.get("report.html").unwrap().text, "mine");
        assert_eq!(templates.get("footer.html").unwrap().text, "also");
        let base = templates.get("base.typ").unwrap();
        assert_eq!(
            base.text,
            Templates::default().get("base.typ").unwrap().text
        );
    }

    #[test]
    fn a_folder_without_templates_says_what_they_are_called() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("Report.htm"), "mine").unwrap();
        let said = Templates::load(folder.path()).unwrap_err().to_string();
        assert!(said.contains("report.html"), "{said}");
    }

    #[test]
    fn a_logo_stays_in_its_folder_and_must_be_a_picture() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).unwrap();
            path
        };
        let out = write("a.yaml", "name: House\nlogo: ../../etc/passwd\n");
        let said = Letterhead::load(&out).unwrap_err().to_string();
        assert!(said.contains("outside"), "{said}");
        write("no.png", "no picture");
        let broken = write("b.yaml", "name: House\nlogo: no.png\n");
        assert!(Letterhead::load(&broken).is_err());
        write("ok.svg", "<svg xmlns='http://www.w3.org/2000/svg'/>");
        let fine = write("c.yaml", "name: House\nlines: [one]\nlogo: ok.svg\n");
        let house = Letterhead::load(&fine).unwrap();
        assert_eq!(house.logo.unwrap().kind, LogoKind::Svg);
    }
}
