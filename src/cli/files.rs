//! Reading the job file and the files that it names under `use:`.

use std::fs::{self, File};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::Failure;
use crate::netlist::{self, Reading};
use crate::source::{FileId, Sources};
use crate::syntax;

/// No job file is larger, in bytes. It keeps a wrong file (a disk image, an endless device) from filling the memory.
pub(super) const LARGEST: u64 = 64 << 20;

/// A job file that was read, with the files that belong to it.
pub(super) struct JobText {
    /// The name as given; `-` for standard input.
    pub(super) name: String,
    /// What was in it.
    pub(super) reading: Reading,
    /// Every file that was read, resolved, so that none is overwritten.
    pub(super) files: Vec<PathBuf>,
    /// What it names under `use:`, as written, whether it could be read or not.
    pub(super) used: Vec<String>,
}

/// Reads a job file and what it names under `use:`.
pub(super) fn read(path: &Path) -> Result<JobText, Failure> {
    let name = path.display().to_string();
    let (mut files, mut asked) = (Vec::new(), Vec::new());
    let (bytes, folder) = if name == "-" {
        let bytes = limited(io::stdin().lock(), 0, LARGEST)
            .map_err(|e| format!("standard input cannot be read: {e}"))?;
        (bytes, PathBuf::from("."))
    } else {
        let bytes = contents(path, LARGEST).map_err(|reason| format!("{name}: {reason}"))?;
        // A pipe has no path to resolve, and cannot be overwritten.
        files.extend(fs::canonicalize(path));
        (bytes, folder(path).to_owned())
    };
    let mut fetch = |used: &str| {
        asked.push(used.to_owned());
        let (real, bytes) = used_file(&folder, used)?;
        files.push(real);
        Ok(bytes)
    };
    let reading = netlist::read(&name, bytes, &mut fetch);
    Ok(JobText { name, reading, files, used: asked })
}

/// From so many bytes on a job file counts as large.
const LARGE: usize = 1 << 20;

/// A large job file whose text was put away.
pub(super) struct PutAway {
    path: PathBuf,
    hash: u64,
}

impl PutAway {
    /// Puts the text of a large job file away: while the rules look at the job nobody asks for it. What came by a pipe cannot
    /// be read again, and stays.
    pub(super) fn of(path: &Path, sources: &mut Sources) -> Option<Self> {
        let large = sources.file(FileId(0)).text.len() >= LARGE;
        let again = path != Path::new("-") && path.is_file();
        (large && again).then(|| Self { path: path.to_owned(), hash: hash(&sources.take_text(FileId(0))) })
    }

    /// Brings it back, for places in it to be told.
    pub(super) fn bring_back(self, sources: &mut Sources) -> Result<(), Failure> {
        let name = self.path.display();
        let bytes = contents(&self.path, LARGEST).map_err(|reason| format!("{name}: {reason}"))?;
        let text = syntax::text(bytes).ok().filter(|text| hash(text) == self.hash);
        let text = text.ok_or_else(|| format!("{name} was changed while it was checked; check it again"))?;
        sources.bring_text(FileId(0), text);
        Ok(())
    }
}

fn hash(text: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    text.hash(&mut hasher);
    hasher.finish()
}

/// The folder in which a file lies.
pub(super) fn folder(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// A file that a job in this folder names under `use:`: its resolved path and what is in it.
pub(super) fn used_file(folder: &Path, used: &str) -> Result<(PathBuf, Vec<u8>), String> {
    let real = within(folder, used)?;
    let bytes = contents(&real, LARGEST)?;
    Ok((real, bytes))
}

/// The file `used`, which must lie in `folder` or below it once every link on the way is resolved.
fn within(folder: &Path, used: &str) -> Result<PathBuf, String> {
    let top = fs::canonicalize(folder).map_err(|e| reason(&e))?;
    let real = fs::canonicalize(top.join(used)).map_err(|e| reason(&e))?;
    if real.starts_with(&top) {
        Ok(real)
    } else {
        Err("it lies outside the folder of the job file".to_owned())
    }
}

/// The bytes of a file that may have at most that many.
pub(super) fn contents(path: &Path, largest: u64) -> Result<Vec<u8>, String> {
    let file = File::open(path).map_err(|e| reason(&e))?;
    let known = file.metadata().ok();
    if known.as_ref().is_some_and(|m| m.is_dir()) {
        return Err("this is a folder; give a file in it".to_owned());
    }
    limited(file, known.map_or(0, |m| m.len()), largest).map_err(|e| reason(&e))
}

/// What can be read, which is expected to be so many bytes, if it is not larger than the largest.
fn limited(from: impl Read, expected: u64, largest: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::with_capacity(usize::try_from(expected.min(largest)).unwrap_or(0));
    from.take(largest + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > largest {
        return Err(io::Error::other(format!(
            "it is larger than {} MB, more than such a file ever is",
            largest >> 20
        )));
    }
    Ok(bytes)
}

/// A failure of the surroundings in plain words.
pub(super) fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".to_owned(),
        io::ErrorKind::PermissionDenied => "you may not open it".to_owned(),
        io::ErrorKind::IsADirectory => "this is a folder".to_owned(),
        _ => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_large_text_comes_back_as_it_was() -> Result<(), Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        let path = folder.path().join("hall.yaml");
        let text = format!("\u{FEFF}job: {{title: Hall}}\n# {}\n", "—".repeat(LARGE / 3));
        fs::write(&path, &text)?;
        let read = || read(&path).map(|job| job.reading.sources).map_err(|Failure(why)| why);

        let mut sources = read()?;
        let away = PutAway::of(&path, &mut sources).ok_or("it is not large")?;
        assert!(sources.file(FileId(0)).text.is_empty());
        assert!(away.bring_back(&mut sources).is_ok());
        assert_eq!(Some(sources.file(FileId(0)).text.as_str()), text.strip_prefix('\u{FEFF}'));

        let away = PutAway::of(&path, &mut sources).ok_or("it is not large")?;
        fs::write(&path, text.replace("Hall", "Barn"))?;
        let why = away.bring_back(&mut sources).err().map(|Failure(why)| why).unwrap_or_default();
        assert!(why.ends_with("hall.yaml was changed while it was checked; check it again"), "{why}");

        fs::write(&path, "job: {title: Hall}\n")?;
        assert!(PutAway::of(&path, &mut read()?).is_none());
        Ok(())
    }
}
