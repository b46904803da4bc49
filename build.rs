//! Reads and compiles the rule pack once, at build time, so that the program starts without
//! parsing YAML or resolving a name. A pack with an error stops the build with its file, line and
//! hint.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// The very modules that read a pack in the program. The lints look at them there.
#[allow(dead_code, unused_imports, clippy::all)]
#[path = "src"]
mod library {
    #[path = "facts/mod.rs"]
    pub mod facts;
    #[path = "rules/mod.rs"]
    pub mod rules;
    #[path = "source/mod.rs"]
    pub mod source;
    #[path = "units/mod.rs"]
    pub mod units;
}
use library::{facts, rules, source, units};

/// The embedded pack, which is only now being made.
mod builtin {}

fn yaml_files(folder: &Path, out: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            yaml_files(&path, out)?;
        } else if path.extension().is_some_and(|e| e == "yaml") {
            out.push(path);
        }
    }
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for part in ["rules", "src/facts", "src/rules", "src/source", "src/units"] {
        println!("cargo::rerun-if-changed={part}");
    }
    let mut paths = Vec::new();
    yaml_files(Path::new("rules"), &mut paths)?;
    paths.sort();
    let mut problems = source::Problems::default();
    let mut files = Vec::new();
    let mut listing = String::from(
        "/// Name and text of every file of the built-in pack.\nstatic TEXTS: &[(&str, &str)] = &[\n",
    );
    for path in &paths {
        let name = path.to_string_lossy().replace('\\', "/");
        let text = fs::read_to_string(path)?;
        let file = source::SourceFile::new(name.clone(), text);
        files.extend(rules::PackFile::read(file, false, &mut problems));
        let absolute = fs::canonicalize(path)?;
        writeln!(
            listing,
            "    ({name:?}, include_str!({:?})),",
            absolute.to_string_lossy()
        )?;
    }
    let pack = rules::load(&files, &mut problems);
    let Some(pack) = pack.filter(|_| !problems.has_errors()) else {
        return Err(problems.to_plain().into());
    };
    let trees: Vec<&source::Node> = files.iter().map(|f| &f.root).collect();
    listing.push_str("];\n/// The same files as trees.\nstatic TREES: &[u8] = include_bytes!(concat!(env!(\"OUT_DIR\"), \"/trees.bin\"));\n");
    listing.push_str("/// The compiled pack.\nstatic PACK: &[u8] = include_bytes!(concat!(env!(\"OUT_DIR\"), \"/pack.bin\"));\n");
    let out = PathBuf::from(env::var("OUT_DIR")?);
    fs::write(out.join("trees.bin"), postcard::to_allocvec(&trees)?)?;
    fs::write(out.join("pack.bin"), postcard::to_allocvec(&pack)?)?;
    fs::write(out.join("rules.rs"), listing)?;
    Ok(())
}
