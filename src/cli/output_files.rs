//! Output files: each appears whole or not at all, and of several either all or none.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;
use tempfile::{Builder, NamedTempFile, TempPath};

use super::files::{self, reason};
use super::{Failure, print};

/// Writes the files. None of them may be one of `inputs`, whose paths are resolved.
///
/// Every text is first written beside its target under a passing name and renamed when all are complete. Something
/// that is no plain file (a pipe, a device) is written straight.
pub(super) fn write(outputs: &[(PathBuf, Vec<u8>)], inputs: &[PathBuf]) -> Result<(), Failure> {
    let mut ready = Vec::new();
    for (path, bytes) in outputs {
        let target = resolved(path)?;
        if inputs.contains(&target) {
            return Err(Failure(format!("{} is read for this job; give another name", path.display())));
        }
        match fs::metadata(&target) {
            Ok(old) if old.permissions().readonly() => {
                return Err(Failure(format!(
                    "{} is there and may only be read; give another name",
                    path.display()
                )));
            }
            Ok(old) if !old.is_file() => straight(&target, bytes).map_err(|e| failed(path, &e))?,
            _ => ready.push((prepared(&target, bytes).map_err(|e| failed(path, &e))?, target)),
        }
    }
    let mut done: Vec<(PathBuf, Option<TempPath>)> = Vec::new();
    for (file, target) in ready {
        let renamed = kept(&target).and_then(|old| {
            done.push((target.clone(), old));
            file.persist(&target).map_err(|e| e.error)
        });
        if let Err(error) = renamed {
            put_back(done);
            return Err(failed(&target, &error));
        }
    }
    Ok(())
}

/// Writes one file, or to standard output where none is named.
pub(super) fn put(output: Option<&Path>, bytes: Vec<u8>, inputs: &[PathBuf]) -> Result<(), Failure> {
    match output {
        Some(path) => write(&[(path.to_owned(), bytes)], inputs),
        None => print(&bytes),
    }
}

/// The folder in which a new folder can come to stand. What could take long is not begun before this is asked.
pub(super) fn new_folder(folder: &Path) -> Result<&Path, Failure> {
    let shown = folder.display();
    if folder.exists() {
        return Err(Failure(format!("{shown} exists already and was left as it is; give a new name")));
    }
    let parent = files::folder(folder);
    if !parent.is_dir() {
        return Err(Failure(format!("{shown}: there is no folder {}", parent.display())));
    }
    Ok(parent)
}

/// Writes a new folder of files, all or none. Names use `/` between folders.
pub(super) fn write_folder(folder: &Path, files: &[(String, Vec<u8>)]) -> Result<(), Failure> {
    let parent = new_folder(folder)?;
    let cannot = |error: std::io::Error| failed(folder, &error);
    let passing = Builder::new().prefix(".bellwire-").tempdir_in(parent).map_err(cannot)?;
    let inner = passing.path().join("pack");
    for (name, bytes) in files {
        let path = inner.join(name);
        fs::create_dir_all(path.parent().unwrap_or(&inner)).map_err(cannot)?;
        fs::write(path, bytes).map_err(cannot)?;
    }
    fs::rename(&inner, folder).map_err(cannot)
}

/// The format that the file's ending names, or the one that was asked for where it names none.
pub(super) fn format<F: ValueEnum>(path: &Path, asked: Option<F>) -> Result<F, Failure> {
    let shown = path.display();
    let name = |format: &F| format.to_possible_value().map(|value| value.get_name().to_owned());
    let ending = F::from_str(&path.extension().unwrap_or_default().to_string_lossy(), true).ok();
    match (ending, asked) {
        (Some(ending), Some(asked)) if name(&ending) != name(&asked) => Err(Failure(format!(
            "{shown}: the ending of the file and --format say different things; leave --format out"
        ))),
        (Some(format), _) | (None, Some(format)) => Ok(format),
        (None, None) => {
            let known: Vec<String> =
                F::value_variants().iter().filter_map(name).map(|name| format!(".{name}")).collect();
            let known = known.join(", ");
            Err(Failure(format!("{shown}: the ending of the file chooses the format; it can be {known}")))
        }
    }
}

/// The path with every link resolved, the file itself need not exist yet.
fn resolved(path: &Path) -> Result<PathBuf, Failure> {
    let shown = path.display();
    if path.is_dir() {
        return Err(Failure(format!("{shown} is a folder; give a file name in it")));
    }
    if let Ok(real) = fs::canonicalize(path) {
        return Ok(real);
    }
    let Some(name) = path.file_name() else {
        return Err(Failure(format!("{shown} is no file name")));
    };
    let folder = files::folder(path);
    match fs::canonicalize(folder) {
        Ok(folder) => Ok(folder.join(name)),
        Err(_) => Err(Failure(format!("{shown}: there is no folder {}", folder.display()))),
    }
}

/// A complete file beside the target, with the rights that the target has or would get.
fn prepared(target: &Path, bytes: &[u8]) -> std::io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.prefix(".bellwire-");
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(target.parent().unwrap_or(Path::new(".")))?;
    file.write_all(bytes)?;
    file.flush()?;
    if let Ok(old) = fs::metadata(target) {
        file.as_file().set_permissions(old.permissions())?;
    }
    Ok(file)
}

fn straight(target: &Path, bytes: &[u8]) -> std::io::Result<()> {
    File::options().write(true).open(target)?.write_all(bytes)
}

/// A second name for the file that is about to be replaced; it vanishes when dropped.
fn kept(target: &Path) -> std::io::Result<Option<TempPath>> {
    if !target.exists() {
        return Ok(None);
    }
    let folder = target.parent().unwrap_or(Path::new("."));
    let spare = Builder::new().prefix(".bellwire-").tempfile_in(folder)?.into_temp_path();
    fs::copy(target, &spare)?;
    Ok(Some(spare))
}

/// Undoes what was renamed so far. What fails here cannot be mended; the first failure is told.
fn put_back(done: Vec<(PathBuf, Option<TempPath>)>) {
    for (target, old) in done {
        let _ = match old {
            Some(old) => old.persist(&target).map_err(|e| e.error),
            None => fs::remove_file(&target),
        };
    }
}

fn failed(path: &Path, error: &std::io::Error) -> Failure {
    Failure(format!("{} cannot be written: {}", path.display(), reason(error)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outputs(folder: &Path, names: [&str; 2]) -> Vec<(PathBuf, Vec<u8>)> {
        names.iter().map(|name| (folder.join(name), b"new".to_vec())).collect()
    }

    #[test]
    fn of_several_files_all_are_written_or_none() {
        let at = tempfile::tempdir().unwrap();
        let folder = at.path();
        fs::write(folder.join("a.svg"), "old").unwrap();
        fs::create_dir(folder.join("a-2.svg")).unwrap();
        assert!(write(&outputs(folder, ["a.svg", "a-2.svg"]), &[]).is_err());
        assert!(write(&outputs(folder, ["b.svg", "absent/b-2.svg"]), &[]).is_err());
        assert_eq!(fs::read_to_string(folder.join("a.svg")).unwrap(), "old");
        assert_eq!(fs::read_dir(folder).unwrap().count(), 2, "nothing is left behind");
        write(&outputs(folder, ["a.svg", "c.svg"]), &[]).unwrap();
        assert_eq!(fs::read_to_string(folder.join("a.svg")).unwrap(), "new");
        assert_eq!(fs::read_to_string(folder.join("c.svg")).unwrap(), "new");
        assert_eq!(fs::read_dir(folder).unwrap().count(), 3, "nothing is left behind");
    }

    #[test]
    fn what_was_replaced_can_be_put_back() {
        let at = tempfile::tempdir().unwrap();
        let [old, fresh] = ["old.svg", "fresh.svg"].map(|name| at.path().join(name));
        fs::write(&old, "old").unwrap();
        let kept = vec![(old.clone(), kept(&old).unwrap()), (fresh.clone(), kept(&fresh).unwrap())];
        fs::write(&old, "new").unwrap();
        fs::write(&fresh, "new").unwrap();
        put_back(kept);
        assert_eq!(fs::read_to_string(&old).unwrap(), "old");
        assert!(!fresh.exists());
    }
}
