//! The committed vector files are what the code generates.

use std::fs;
use std::path::Path;

#[test]
fn committed_vectors_are_the_generated_ones() {
    let committed = Path::new(env!("CARGO_MANIFEST_DIR")).join("../protocol/vectors");
    let dir = tempfile::tempdir().unwrap();
    let written = benchmast::vectors::write(dir.path()).unwrap();
    let mut names: Vec<_> = fs::read_dir(&committed)
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    names.sort();
    let mut generated: Vec<_> = written
        .iter()
        .map(|path| path.file_name().unwrap().to_owned())
        .collect();
    generated.sort();
    assert_eq!(names, generated, "files in protocol/vectors");
    for path in written {
        let name = path.file_name().unwrap();
        let ours = fs::read_to_string(&path).unwrap();
        let theirs = fs::read_to_string(committed.join(name)).unwrap();
        assert!(
            ours == theirs,
            "{name:?} differs from what the code generates"
        );
    }
}

#[test]
fn writing_makes_its_directory_and_repeats_itself() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let first = benchmast::vectors::write(&one.path().join("made/on/the/way")).unwrap();
    let second = benchmast::vectors::write(two.path()).unwrap();
    assert_eq!(first.len(), 6);
    for (a, b) in first.iter().zip(&second) {
        assert_eq!(fs::read(a).unwrap(), fs::read(b).unwrap());
    }
}
