//! Draws the scenes of the gallery into a folder, or looks for scenes worth drawing.
//!
//! `gallery FOLDER` or `gallery --find [YEARS]`

use benchmast_tests::gallery::{SCENES, search};
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words[..] {
        ["--find"] => search::print(5),
        ["--find", years] => search::print(years.parse()?),
        [folder] if !folder.starts_with('-') => {
            std::fs::create_dir_all(folder)?;
            for scene in SCENES {
                let file = Path::new(folder).join(scene.name).with_extension("svg");
                std::fs::write(file, scene.draw())?;
            }
        }
        _ => return Err("gallery FOLDER, or gallery --find [YEARS]".into()),
    }
    Ok(())
}
