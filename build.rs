//! Reads the rule pack's YAML once, at build time, so that the program starts without parsing it.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

#[allow(dead_code, unused_imports)]
#[path = "src/source/mod.rs"]
mod source;

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
    println!("cargo::rerun-if-changed=rules");
    println!("cargo::rerun-if-changed=src/source");
    let mut paths = Vec::new();
    yaml_files(Path::new("rules"), &mut paths)?;
    paths.sort();
    let mut problems = source::Problems::default();
    let mut trees = Vec::new();
    let mut listing = String::from(
        "/// Name and text of every file of the built-in pack.\nstatic TEXTS: &[(&str, &str)] = &[\n",
    );
    for path in &paths {
        let name = path.to_string_lossy().replace('\\', "/");
        let text = fs::read_to_string(path)?;
        let file = source::SourceFile::new(name.clone(), text);
        if let Some(tree) = file.yaml(source::Limits::default(), &mut problems) {
            trees.push(tree);
        }
        let absolute = fs::canonicalize(path)?;
        writeln!(
            listing,
            "    ({name:?}, include_str!({:?})),",
            absolute.to_string_lossy()
        )?;
    }
    if problems.has_errors() {
        return Err(problems.to_plain().into());
    }
    listing.push_str("];\n/// The same files as trees.\nstatic TREES: &[u8] = include_bytes!(concat!(env!(\"OUT_DIR\"), \"/rules.bin\"));\n");
    let out = PathBuf::from(env::var("OUT_DIR")?);
    fs::write(out.join("rules.bin"), postcard::to_allocvec(&trees)?)?;
    fs::write(out.join("rules.rs"), listing)?;
    Ok(())
}
