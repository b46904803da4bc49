//! Writing files whole or not at all.

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use anyhow::{Context, bail};

use super::print_all;

/// Writes a file whole: to a temporary file in the same folder, synced, then put in place in one
/// step. An existing file is left alone unless `force`.
///
/// # Errors
/// When the file exists and `force` is not given, or the folder can't be written to. Nothing is
/// left half-written.
pub fn write_whole(path: &Path, bytes: &[u8], force: bool) -> anyhow::Result<()> {
    write_stream(path, force, |file| file.write_all(bytes))
}

/// As [`write_whole`], for what is too large to hold.
///
/// # Errors
/// As [`write_whole`], or what `write` says.
pub fn write_stream(
    path: &Path,
    force: bool,
    write: impl FnOnce(&mut std::io::BufWriter<&std::fs::File>) -> std::io::Result<()>,
) -> anyhow::Result<()> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let shown = path.display();
    if path.is_dir() {
        bail!("{shown} is a folder; name a file");
    }
    let exists = || {
        anyhow::anyhow!(
            "{shown} exists already; give `--force` to write over it, or `-o` another name"
        )
    };
    if !force && path.exists() {
        return Err(exists());
    }
    let file = tempfile::Builder::new()
        .prefix(".ringtrue-")
        .tempfile_in(folder)
        .with_context(|| format!("can't write in {}", folder.display()))?;
    let mut buffer = std::io::BufWriter::new(file.as_file());
    write(&mut buffer)
        .and_then(|()| buffer.flush())
        .and_then(|()| file.as_file().sync_all())
        .with_context(|| format!("can't write {shown}"))?;
    drop(buffer);
    set_usual_mode(file.as_file());
    if force {
        file.persist(path)
            .map_err(|e| e.error)
            .with_context(|| format!("can't put {shown} in place"))?;
    } else {
        file.persist_noclobber(path)
            .map_err(|e| match e.error.kind() {
                std::io::ErrorKind::AlreadyExists => exists(),
                _ => anyhow::Error::new(e.error).context(format!("can't put {shown} in place")),
            })?;
    }
    Ok(())
}

/// Writes to a file, whole, and prints what `told` says of it; to standard output where no file is
/// named or its name is `-`.
///
/// # Errors
/// As [`write_whole`], or when standard output is closed.
pub fn write_or_print(
    output: Option<&Path>,
    bytes: &[u8],
    force: bool,
    told: impl FnOnce(&Path) -> String,
) -> anyhow::Result<ExitCode> {
    match output.filter(|path| path.as_os_str() != "-") {
        Some(path) => {
            write_whole(path, bytes, force)?;
            print_all(told(path).as_bytes())
        }
        None => print_all(bytes),
    }
}

/// Temporary files are made for their owner alone; a report is for reading.
#[cfg(unix)]
fn set_usual_mode(file: &std::fs::File) {
    use std::os::unix::fs::PermissionsExt;
    // A file system without modes keeps what it has.
    let _ = file.set_permissions(std::fs::Permissions::from_mode(0o644));
}

#[cfg(not(unix))]
fn set_usual_mode(_: &std::fs::File) {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_existing_file_is_left_alone_unless_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.html");
        write_whole(&path, b"first", false).unwrap();
        assert!(
            write_whole(&path, b"second", false)
                .unwrap_err()
                .to_string()
                .contains("--force")
        );
        assert_eq!(std::fs::read(&path).unwrap(), b"first");
        write_whole(&path, b"second", true).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"second");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
