//! Writing files whole or not at all.

use std::fs::{File, OpenOptions, Permissions, TryLockError};
use std::io::{BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};
use tempfile::{NamedTempFile, TempPath};

use super::print_all;
use crate::inventory::run::no_room;

/// How the name of a file begins that is not in its place yet.
const PREFIX: &str = ".ringtrue-";
/// How it ends.
const SUFFIX: &str = ".part";

/// Where a file is to go, looked at before anything is written. A link is followed, so that the
/// file behind one is replaced and not the link.
#[derive(Debug)]
pub struct Place {
    path: PathBuf,
    shown: String,
    force: bool,
    before: Option<Permissions>,
}

impl Place {
    /// Looks whether a file may go there.
    ///
    /// # Errors
    /// When the file exists and `force` is not given, is write-protected or no plain file.
    pub fn find(path: &Path, force: bool) -> anyhow::Result<Place> {
        let shown = path.display().to_string();
        let before = std::fs::metadata(path).ok();
        if let Some(before) = &before {
            if before.is_dir() {
                bail!("{shown} is a folder; name a file");
            }
            if !force {
                return Err(exists(&shown));
            }
            if !before.is_file() {
                bail!("{shown} is no plain file; `-o -` writes to standard output");
            }
            if before.permissions().readonly() {
                bail!("{shown} is write-protected; give another name with `-o`");
            }
        }
        Ok(Place {
            path: match before {
                Some(_) => path.canonicalize().unwrap_or_else(|_| path.to_owned()),
                None => path.to_owned(),
            },
            shown,
            force,
            before: before.map(|m| m.permissions()),
        })
    }

    /// The file itself, where a link was given for it.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Who may read and write the file that is there; a file that was kept from others stays so.
    pub fn before(&self) -> Option<&Permissions> {
        self.before.as_ref()
    }

    /// Takes a file that lies in the folder of the place, whole and synced. If it can't be put, it
    /// stays under its own name.
    ///
    /// # Errors
    /// When there is no working folder to name it from.
    pub fn take(self, file: File, name: &Path) -> anyhow::Result<Ready> {
        let mut path = TempPath::try_from_path(name)
            .with_context(|| format!("can't put {} in place", self.shown))?;
        path.disable_cleanup(true);
        Ok(Ready {
            file,
            path,
            place: self,
        })
    }
}

/// A file that is on the disk, whole, but not in its place yet. Dropped, it leaves nothing behind.
#[derive(Debug)]
pub struct Ready {
    /// Kept open for its lock.
    file: File,
    path: TempPath,
    place: Place,
}

/// Writes to a temporary file in the folder of `path` and syncs it, so that only [`Ready::put`] is
/// left to do. Links are followed, so that the file behind one is replaced and not the link.
///
/// A program that is killed can leave a temporary file, named `.ringtrue-….part`. The next file
/// written in the same folder takes it away: nobody holds its lock any more.
///
/// # Errors
/// When the file exists and `force` is not given, is write-protected or no plain file, or there is
/// no room for it.
pub fn ready(path: &Path, bytes: &[u8], force: bool) -> anyhow::Result<Ready> {
    ready_stream(path, force, |file| file.write_all(bytes))
}

/// As [`ready`], for what is too large to hold.
fn ready_stream(
    path: &Path,
    force: bool,
    write: impl FnOnce(&mut BufWriter<&File>) -> std::io::Result<()>,
) -> anyhow::Result<Ready> {
    let place = Place::find(path, force)?;
    let shown = &place.shown;
    let folder = folder_of(&place.path);
    let (file, path) = temporary(folder)
        .with_context(|| format!("can't write in {}", folder.display()))?
        .into_parts();
    // A file system without modes keeps what it has.
    if let Some(before) = place.before() {
        let _ = file.set_permissions(before.clone());
    }
    let mut buffer = BufWriter::new(&file);
    write(&mut buffer)
        .and_then(|()| buffer.flush())
        .and_then(|()| file.sync_all())
        .map_err(|error| match no_room(&error) {
            true => anyhow::Error::new(error)
                .context(format!("no room to write {shown}; nothing is changed")),
            false => anyhow::Error::new(error).context(format!("can't write {shown}")),
        })?;
    drop(buffer);
    Ok(Ready { file, path, place })
}

impl Ready {
    /// Puts the file in its place, in one step.
    ///
    /// # Errors
    /// When a file has appeared there meanwhile and was not to be written over, or the folder
    /// can't be written to.
    pub fn put(self) -> anyhow::Result<()> {
        let Place {
            path, shown, force, ..
        } = self.place;
        let put = if force {
            self.path.persist(&path)
        } else {
            self.path.persist_noclobber(&path)
        };
        drop(self.file);
        match put {
            Ok(()) => {
                sync_folder(&path);
                Ok(())
            }
            Err(e) if e.error.kind() == ErrorKind::AlreadyExists => Err(exists(&shown)),
            Err(e) => {
                Err(anyhow::Error::new(e.error).context(format!("can't put {shown} in place")))
            }
        }
    }
}

/// Writes a file whole: to a temporary file in the same folder, synced, then put in place in one
/// step. An existing file is left alone unless `force`.
///
/// # Errors
/// As [`ready`] and [`Ready::put`]. Nothing is left half-written.
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
    write: impl FnOnce(&mut BufWriter<&File>) -> std::io::Result<()>,
) -> anyhow::Result<()> {
    ready_stream(path, force, write)?.put()
}

/// Refuses to write over what is being read, which not even `--force` can mean.
///
/// # Errors
/// When `output` is the same file as one of the `inputs`.
pub fn keep(inputs: &[&Path], output: &Path) -> anyhow::Result<()> {
    let Ok(there) = output.canonicalize() else {
        return Ok(());
    };
    if inputs
        .iter()
        .any(|i| i.canonicalize().is_ok_and(|i| i == there))
    {
        bail!(
            "{} is what this is made from; give another name with `-o`",
            output.display()
        );
    }
    Ok(())
}

fn exists(shown: &str) -> anyhow::Error {
    anyhow::anyhow!("{shown} exists already; give `--force` to write over it, or `-o` another name")
}

/// The folder a file lies in; the working folder for a bare name.
pub fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// A new temporary file in a folder, locked as long as it is open.
fn temporary(folder: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    // Usually made for their owner alone; a report is for reading, as far as the user's mask lets.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    sweep(folder);
    loop {
        let file = builder.tempfile_in(folder)?;
        // Before it was locked, another run may have taken it for one left behind. A file system
        // without locks says so; then nothing is swept there either.
        let swept = matches!(file.as_file().try_lock(), Err(TryLockError::WouldBlock));
        if !swept && file.path().exists() {
            return Ok(file);
        }
    }
}

/// Takes away the temporary files of runs that were killed. Whatever hinders it is no reason not to
/// write.
fn sweep(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let ours = name.starts_with(PREFIX) && name.ends_with(SUFFIX);
        // The kind is asked first: opening a pipe would wait for its other end.
        if ours
            && entry.file_type().is_ok_and(|t| t.is_file())
            && let Ok(file) = OpenOptions::new().read(true).write(true).open(entry.path())
            && file.try_lock().is_ok()
        {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

/// Makes sure that a file's name is on the disk too, where the system can sync a folder.
pub fn sync_folder(path: &Path) {
    if let Ok(folder) = File::open(folder_of(path)) {
        let _ = folder.sync_all();
    }
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
    #[test]
    fn what_a_killed_run_left_is_taken_away_and_what_another_writes_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let left = folder.path().join(".ringtrue-left01.part");
        std::fs::write(&left, "ha").unwrap();
        let other = ready(&folder.path().join("a.html"), b"a", false).unwrap();
        assert!(!left.exists());
        write_whole(&folder.path().join("b.html"), b"b", false).unwrap();
        other.put().unwrap();
        assert_eq!(std::fs::read(folder.path().join("a.html")).unwrap(), b"a");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
    }

    #[test]
    fn a_file_that_appears_meanwhile_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.html");
        let mine = ready(&path, b"mine", false).unwrap();
        std::fs::write(&path, "theirs").unwrap();
        assert!(mine.put().unwrap_err().to_string().contains("--force"));
        assert_eq!(std::fs::read(&path).unwrap(), b"theirs");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_is_read_is_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let record = folder.path().join("job.yaml");
        std::fs::write(&record, "ringtrue: 1").unwrap();
        let around = folder.path().join(".").join("job.yaml");
        assert!(keep(&[&record], &around).is_err());
        assert!(keep(&[&record], &folder.path().join("job.html")).is_ok());
    }

    #[cfg(unix)]
    #[test]
    fn links_are_followed_modes_kept_and_devices_refused() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("job.yaml");
        let link = folder.path().join("link.yaml");
        let mode = |m| std::fs::set_permissions(&file, PermissionsExt::from_mode(m)).unwrap();
        std::fs::write(&file, "old").unwrap();
        mode(0o640);
        symlink(&file, &link).unwrap();
        write_whole(&link, b"new", true).unwrap();
        assert!(link.is_symlink());
        assert_eq!(std::fs::read(&file).unwrap(), b"new");
        let now = std::fs::metadata(&file).unwrap().permissions().mode();
        assert_eq!(now & 0o777, 0o640);
        mode(0o440);
        assert!(write_whole(&file, b"newer", true).is_err());
        assert_eq!(std::fs::read(&file).unwrap(), b"new");
        let error = write_whole(Path::new("/dev/null"), b"x", true).unwrap_err();
        assert!(error.to_string().contains("no plain file"), "{error}");
    }
}
