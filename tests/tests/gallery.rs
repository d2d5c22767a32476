//! The pictures in the README are what the command beside them makes today.

use benchmast_tests::gallery::SCENES;
use std::path::Path;

const COMMAND: &str = "cargo run --release -p benchmast-tests --bin gallery -- harness/gallery";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("the workspace")
}

#[test]
fn the_gallery_is_what_its_command_draws() {
    let folder = root().join("harness/gallery");
    let old: Vec<&str> = SCENES
        .iter()
        .filter(|scene| {
            let file = folder.join(scene.name).with_extension("svg");
            // A checkout may have changed the ends of lines.
            let kept = std::fs::read_to_string(file).map(|text| text.replace("\r\n", "\n"));
            kept.ok() != Some(scene.draw())
        })
        .map(|scene| scene.name)
        .collect();
    assert!(
        old.is_empty(),
        "{old:?} differ from what is drawn today; `{COMMAND}` draws them anew, then read what the README says of them"
    );
    let files = std::fs::read_dir(&folder).expect("the gallery").count();
    assert_eq!(
        files,
        SCENES.len(),
        "a file of the gallery belongs to no scene"
    );
}

#[test]
fn the_readme_shows_every_scene_and_the_command() {
    let readme = std::fs::read_to_string(root().join("README.md")).expect("the README");
    assert!(readme.contains(COMMAND));
    for scene in SCENES {
        let picture = format!("](harness/gallery/{}.svg)", scene.name);
        assert!(readme.contains(&picture), "{}", scene.name);
    }
}
