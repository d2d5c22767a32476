//! The scenario that tests of several files begin with.

/// The head of a scenario at an invented place, from its start (UTC) over so many days; sections may follow.
pub(crate) fn scenario(title: &str, seed: u64, start: &str, days: f64) -> String {
    format!(
        "title = \"{title}\"\nseed = {seed}\n\
         [period]\nstart = {start}\ndays = {days}\n\
         [place]\nname = \"Testing Green\"\nlatitude_deg = 50.0\nlongitude_deg = 5.0\naltitude_m = 120\n\
         [weather]\nclimate = \"temperate_maritime\"\n"
    )
}
