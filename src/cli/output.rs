//! Where results go: standard output, and files that are never half written.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::failure::Failure;

/// Writes `text` to standard output. A reader that has seen enough (`| head`) is no failure.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::Io(format!("cannot write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}

/// Writes `text` to the file at `path` whole or not at all: into a new file beside it first, which then takes its name.
/// A path that is no ordinary file (a pipe, a device) is written to directly.
pub fn write_file(path: &Path, text: &str) -> Result<(), Failure> {
    write_bytes(path, text.as_bytes())
}

/// As [`write_file`], for what is no text.
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    write_whole(path, bytes).map_err(|error| Failure::write(path, &error))
}

fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let before = match fs::metadata(path) {
        Ok(metadata) => Some(metadata),
        Err(error) if error.kind() == io::ErrorKind::NotFound => None,
        Err(error) => return Err(error),
    };
    if before.as_ref().is_some_and(|metadata| !metadata.is_file()) {
        return fs::OpenOptions::new().write(true).open(path)?.write_all(bytes);
    }
    // A link stays a link: the file it leads to is the one replaced.
    let target = if before.is_some() { fs::canonicalize(path)? } else { path.to_owned() };
    let draft = draft_beside(&target)?;
    let written = fs::File::create_new(&draft).and_then(|mut file| {
        if let Some(metadata) = &before {
            file.set_permissions(metadata.permissions())?;
        }
        file.write_all(bytes)?;
        file.sync_all()
    });
    written.and_then(|()| fs::rename(&draft, &target)).inspect_err(|_| {
        // The write has failed already and is reported; a draft that cannot be removed adds nothing to that.
        let _ = fs::remove_file(&draft);
    })
}

fn draft_beside(target: &Path) -> io::Result<PathBuf> {
    let name = target.file_name().ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "it names no file"))?;
    let mut draft = std::ffi::OsString::from(".");
    draft.push(name);
    draft.push(format!(".{}.draft", std::process::id()));
    Ok(target.with_file_name(draft))
}

/// Makes the folder `path` and those above it, if need be.
pub fn make_folder(path: &Path) -> Result<(), Failure> {
    fs::create_dir_all(path).map_err(|error| {
        Failure::Io(format!("cannot make the folder {}: {error}; choose one where you may write", path.display()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_replaced_whole_and_no_draft_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plan.json");
        write_file(&path, "old").unwrap();
        write_file(&path, "new").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_folder_that_is_not_there_is_named_with_a_cure() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("nowhere").join("plan.json");
        let failure = write_file(&path, "x").unwrap_err();
        assert_eq!(failure.code(), 2);
        assert!(failure.to_string().contains("nowhere") && failure.to_string().contains("is the folder there"));
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_written_to_and_stays_a_device() {
        let path = Path::new("/dev/null");
        write_file(path, "x").unwrap();
        assert!(!fs::metadata(path).unwrap().is_file());
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (folder.path().join("real.json"), folder.path().join("link.json"));
        write_file(&real, "old").unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        write_file(&link, "new").unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read_to_string(&real).unwrap(), "new");
    }
}
