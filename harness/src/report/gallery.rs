//! A stretch of true weather as one picture: an SVG file that stands alone, with a background of its own, for
//! pages that show pictures and nothing else.
//!
//! Letters are in the picture's own coordinates and grow on narrow screens, by a style rule inside the file.

use super::chart::{self, HEIGHT, Scale};
use super::timeline::{DAY, HOUR, Tick, Timeline, civil};
use super::wording;
use benchmast_sim::physics::atmosphere::reduce_to_sea_level_hpa;
use benchmast_sim::truth::Truth;
use std::fmt::Write as _;

/// Width of the picture in its own coordinates.
const WIDTH: usize = 640;
const LEFT: usize = 54;
const RIGHT: usize = 14;
/// Room of a line of letters.
const LINE: usize = 24;
/// Between a chart and the words of the next.
const GAP: usize = 4;

const STYLE: &str = "text{font:14px system-ui,'Liberation Sans',Arial,sans-serif;fill:#1c2326}\
.title{font-size:18px;font-weight:600}.soft{fill:#5b666b}.right{text-anchor:end}.middle{text-anchor:middle}\
path{fill:none;vector-effect:non-scaling-stroke;stroke-linejoin:round}.night{fill:#e9ebee}\
.level{stroke:#cfd1d0;stroke-width:.7}.tick{stroke:#cfd1d0;stroke-width:.7}.tick.strong{stroke:#9ca3a5}\
.box{stroke:#5b666b}path.warm{stroke:#b8480a;stroke-width:1.7}path.cold{stroke:#0b62a4;stroke-width:1.5;stroke-dasharray:5 2.5}\
.dark{stroke:#12304d;stroke-width:1.6}.fresh{stroke:#5b9bc8;stroke-width:1}.pale{fill:#bcd3e4}.rain{fill:#0b62a4}\
.snow{fill:#fff;stroke:#0b62a4;stroke-width:.9}.dot{stroke:#12304d;stroke-width:2.6;stroke-linecap:round}\
.sun{fill:#eeb63f}.sky{fill:#7d93a8}.cloud{fill:#a3adb3}.freezing{stroke:#1c2326;stroke-width:.9}\
tspan.warm{fill:#a83f05}tspan.cold{fill:#0b62a4}\
@media(max-width:480px){text{font-size:17px}.title{font-size:20px}.wide{display:none}}";

/// What one bin of the timeline saw.
#[derive(Debug, Clone, Copy, Default)]
struct Bin {
    number: f64,
    night: f64,
    temperature: f64,
    dew_point: f64,
    pressure: f64,
    speed: f64,
    gust: f64,
    east: f64,
    north: f64,
    rain: f64,
    snow: f64,
    global: f64,
    diffuse: f64,
    cloud: f64,
}

/// A picture in the making: told every interval of a period, it draws the whole.
#[derive(Debug, Clone)]
pub struct Picture {
    title: String,
    note: String,
    altitude_m: f64,
    timeline: Timeline,
    bins: Vec<Bin>,
}

type Series = Vec<Option<f64>>;

impl Picture {
    /// An empty picture of a period in microseconds since 1970-01-01T00:00:00Z, for a barometer so high
    /// above sea level.
    #[must_use]
    pub fn new(
        title: &str,
        note: &str,
        altitude_m: f64,
        period_us: (i64, i64),
        interval_s: u16,
    ) -> Self {
        let timeline = Timeline::new(period_us.0, period_us.1, interval_s);
        Self {
            title: title.to_owned(),
            note: note.to_owned(),
            altitude_m,
            timeline,
            bins: vec![Bin::default(); timeline.count],
        }
    }

    /// Take an interval in.
    pub fn add(&mut self, truth: &Truth) {
        let bin = self.timeline.bin_of_interval_end(truth.time_us);
        let bin = &mut self.bins[bin];
        bin.number += 1.0;
        bin.night += f64::from(u8::from(truth.sun.up < 0.0));
        bin.temperature += truth.air_temperature_degc;
        bin.dew_point += truth.dew_point_degc;
        bin.pressure += reduce_to_sea_level_hpa(
            truth.air_pressure_hpa,
            self.altitude_m,
            truth.air_temperature_degc,
            truth.relative_humidity_percent,
        );
        bin.speed += truth.wind_speed_ms;
        bin.gust = bin.gust.max(truth.wind_speed_of_gust_ms);
        let (sine, cosine) = libm::sincos(truth.wind_from_direction_deg.to_radians());
        bin.east += truth.wind_speed_ms * sine;
        bin.north += truth.wind_speed_ms * cosine;
        bin.rain += truth.rainfall_mm;
        bin.snow += truth.snowfall_mm;
        bin.global += truth.global_irradiance_wm2;
        bin.diffuse += truth.diffuse_irradiance_wm2;
        bin.cloud += truth.cloud_area_fraction;
    }

    fn means(&self, of: impl Fn(&Bin) -> f64) -> Series {
        let mean = |bin: &Bin| (bin.number > 0.0).then(|| of(bin) / bin.number);
        self.bins.iter().map(mean).collect()
    }

    /// The whole file, UTF-8.
    #[must_use]
    pub fn svg(&self) -> String {
        let panels = self.panels();
        let charts: usize = panels.iter().map(|p| LINE + p.height + GAP).sum();
        let height = 2 * LINE + 12 + LINE + charts + LINE + 4;
        let ticks = self.timeline.ticks();
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" width=\"{WIDTH}\" \
             height=\"{height}\" role=\"img\" aria-labelledby=\"title\"><title id=\"title\">{}</title>\n\
             <style>{STYLE}</style>\n<rect width=\"100%\" height=\"100%\" fill=\"#fdfcf9\"/>\n\
             <text class=\"title\" x=\"12\" y=\"25\">{}</text>\n\
             <text class=\"soft\" x=\"12\" y=\"48\">{}</text>\n",
            wording::escape(&self.title),
            wording::escape(&self.title),
            wording::escape(&self.note)
        );
        let background = self.background(&ticks);
        let mut top = 2 * LINE + 12;
        svg.push_str(&self.times(&ticks, top + 14));
        top += LINE;
        for panel in &panels {
            panel.write(&mut svg, top, self.timeline.count, &background);
            top += LINE + panel.height + GAP;
        }
        svg.push_str(&self.times(&ticks, top + 16));
        svg.push_str("</svg>\n");
        svg
    }

    fn background(&self, ticks: &[Tick]) -> String {
        let across = (2 * self.timeline.count) as f64;
        let mut nights = String::new();
        let night = |bin: usize| 2.0 * self.bins[bin].night > self.bins[bin].number;
        for (begin, end) in chart::runs(self.bins.len(), night) {
            let _ = write!(
                nights,
                "M{} 0h{}v{HEIGHT}H{}z",
                2 * begin,
                2 * (end - begin),
                2 * begin
            );
        }
        let mut svg = format!("<path class=\"night\" d=\"{nights}\"/>");
        for strong in [false, true] {
            let class = if strong { "tick strong" } else { "tick" };
            let lines: String = ticks
                .iter()
                .filter(|tick| tick.strong == strong)
                .map(|tick| format!("M{:.1} 0v{HEIGHT}", tick.share * across))
                .collect();
            let _ = write!(svg, "<path class=\"{class}\" d=\"{lines}\"/>");
        }
        svg
    }

    /// Days are named in their middle, hours at their mark.
    fn times(&self, ticks: &[Tick], y: usize) -> String {
        let span = (self.timeline.close_us() - self.timeline.origin_us) as f64;
        let (shift, days) = if span > 3.0 * DAY as f64 {
            (0.5 * DAY as f64 / span, true)
        } else {
            (0.0, false)
        };
        let mut svg = format!("<text class=\"soft\" x=\"12\" y=\"{y}\">UTC</text>");
        let named = ticks.iter().filter(|tick| tick.strong || !days);
        for (index, tick) in named.enumerate() {
            // Narrow screens show every other hour.
            let wide = if index % 2 == 1 && !days { " wide" } else { "" };
            let share = tick.share + shift;
            if share < 1.0 - 0.02 && share > 0.02 {
                let x = LEFT as f64 + share * (WIDTH - LEFT - RIGHT) as f64;
                let _ = write!(
                    svg,
                    "<text class=\"soft middle{wide}\" x=\"{x:.1}\" y=\"{y}\">{}</text>",
                    tick.label
                );
            }
        }
        svg.push('\n');
        svg
    }

    fn panels(&self) -> Vec<Panel> {
        let span = wording::span(self.timeline.width_us);
        vec![
            self.temperature(),
            self.rain(),
            self.pressure(),
            self.wind(&span),
            self.direction(),
            self.irradiance(),
            self.cloud(),
        ]
    }

    fn temperature(&self) -> Panel {
        let air = self.means(|bin| bin.temperature);
        let dew = self.means(|bin| bin.dew_point);
        let (low, high) = extent(&[&air, &dew]);
        let mut panel = Panel::new(Scale::around(low, high, 4.0, 4), 118);
        panel.words = "<tspan class=\"warm\">Air temperature</tspan> and \
                       <tspan class=\"cold\">dew point (dashed)</tspan>, °C"
            .to_owned();
        if panel.scale.low < 0.0 && panel.scale.high > 0.0 {
            let zero = (panel.scale.depth(0.0) * HEIGHT as f64).round();
            let across = 2 * self.timeline.count;
            panel.mark("freezing", &format!("M0 {zero}h{across}"));
        }
        panel.mark("cold", &chart::line(&dew, &panel.scale, 1));
        panel.mark("warm", &chart::line(&air, &panel.scale, 1));
        panel
    }

    fn rain(&self) -> Panel {
        let (bar_us, ranges) = self.timeline.bars();
        let sum = |of: fn(&Bin) -> f64| -> Vec<f64> {
            let of = |range: &(usize, usize)| self.bins[range.0..range.1].iter().map(of).sum();
            ranges.iter().map(of).collect()
        };
        let rain = sum(|bin| bin.rain);
        let both = sum(|bin| bin.rain + bin.snow);
        let nothing = vec![0.0; both.len()];
        let total: f64 = both.iter().sum();
        let snow = total - rain.iter().sum::<f64>();
        let highest = both.iter().copied().fold(0.0, f64::max);
        let mut panel = Panel::new(Scale::from_zero(highest, 1.0, 3), 74);
        let per = match bar_us {
            HOUR => "hour".to_owned(),
            width => wording::span(width),
        };
        panel.words = if snow >= 0.05 {
            format!("Rain (filled) and snow (open), mm per {per}")
        } else {
            format!("Rain, mm per {per}")
        };
        panel.aside = format!("sum {total:.1} mm");
        panel.mark(
            "snow",
            &chart::bars(&ranges, &rain, &both, 0.84, &panel.scale),
        );
        panel.mark(
            "rain",
            &chart::bars(&ranges, &nothing, &rain, 0.84, &panel.scale),
        );
        panel
    }

    fn pressure(&self) -> Panel {
        let pressure = self.means(|bin| bin.pressure);
        let (low, high) = extent(&[&pressure]);
        let mut panel = Panel::new(Scale::around(low, high, 5.0, 3), 84);
        panel.words = "Pressure at mean sea level, hPa".to_owned();
        panel.mark("dark", &chart::line(&pressure, &panel.scale, 1));
        panel
    }

    fn wind(&self, span: &str) -> Panel {
        let mean = self.means(|bin| bin.speed);
        let gust = self.means(|bin| bin.gust * bin.number);
        let (_, high) = extent(&[&gust]);
        let mut panel = Panel::new(Scale::from_zero(high, 4.0, 3), 92);
        panel.words = format!("Wind: mean of {span}, and highest gust (pale), m/s");
        panel.mark("pale", &chart::range(&mean, &gust, &panel.scale));
        panel.mark("fresh", &chart::line(&gust, &panel.scale, 1));
        panel.mark("dark", &chart::line(&mean, &panel.scale, 1));
        panel
    }

    fn direction(&self) -> Panel {
        let from = |bin: &Bin| {
            let degrees = libm::atan2(bin.east, bin.north).to_degrees();
            (bin.east != 0.0 || bin.north != 0.0).then_some((degrees + 360.0) % 360.0)
        };
        let from: Series = self.bins.iter().map(from).collect();
        let points = [0.0, 90.0, 180.0, 270.0, 360.0];
        let mut panel = Panel::new(Scale::fixed(0.0, 360.0, &points), 84);
        panel.words = "Wind direction, from where it blows".to_owned();
        panel.label_of = |value| {
            let index = (value / 90.0).round() as usize % 4;
            ["N", "E", "S", "W"][index].to_owned()
        };
        panel.mark("dot", &chart::dots(&from, &panel.scale));
        panel
    }

    fn irradiance(&self) -> Panel {
        let global = self.means(|bin| bin.global);
        let diffuse = self.means(|bin| bin.diffuse);
        let (_, high) = extent(&[&global]);
        let mut panel = Panel::new(Scale::from_zero(high, 100.0, 3), 84);
        panel.words = "Global irradiance (grey: its diffuse part), W/m²".to_owned();
        panel.mark("sun", &chart::steps(&global, &panel.scale));
        panel.mark("sky", &chart::steps(&diffuse, &panel.scale));
        panel
    }

    fn cloud(&self) -> Panel {
        let oktas = self.means(|bin| 8.0 * bin.cloud);
        let mut panel = Panel::new(Scale::fixed(0.0, 8.0, &[0.0, 4.0, 8.0]), 60);
        panel.words = "Cloud cover, oktas".to_owned();
        panel.mark("cloud", &chart::steps(&oktas, &panel.scale));
        panel
    }
}

fn extent(series: &[&Series]) -> (f64, f64) {
    let values = series.iter().flat_map(|values| values.iter().flatten());
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(*value), high.max(*value))
    })
}

/// One quantity's chart and the words above it.
#[derive(Debug)]
struct Panel {
    /// SVG text, escaped already.
    words: String,
    /// Small words at the right.
    aside: String,
    scale: Scale,
    label_of: fn(f64) -> String,
    height: usize,
    marks: String,
}

impl Panel {
    fn new(scale: Scale, height: usize) -> Self {
        Self {
            words: String::new(),
            aside: String::new(),
            scale,
            label_of: |value| wording::value(Some(value), 0),
            height,
            marks: String::new(),
        }
    }

    fn mark(&mut self, class: &str, path: &str) {
        if !path.is_empty() {
            let _ = write!(self.marks, "<path class=\"{class}\" d=\"{path}\"/>");
        }
    }

    fn write(&self, svg: &mut String, top: usize, count: usize, background: &str) {
        let (across, wide) = (2 * count, WIDTH - LEFT - RIGHT);
        let _ = writeln!(
            svg,
            "<text x=\"{LEFT}\" y=\"{}\">{}</text><text class=\"soft right\" x=\"{}\" y=\"{}\">{}</text>",
            top + LINE - 7,
            self.words,
            WIDTH - RIGHT,
            top + LINE - 7,
            self.aside
        );
        let top = top + LINE;
        let mut levels = String::new();
        for tick in &self.scale.ticks {
            let depth = self.scale.depth(*tick);
            let label = if self.scale.decimals > 0 {
                wording::value(Some(*tick), self.scale.decimals)
            } else {
                (self.label_of)(*tick)
            };
            let _ = write!(
                svg,
                "<text class=\"soft right\" x=\"{}\" y=\"{:.1}\">{label}</text>",
                LEFT - 7,
                top as f64 + depth * self.height as f64 + 5.0
            );
            let down = (depth * HEIGHT as f64).round();
            let _ = write!(levels, "M0 {down}h{across}");
        }
        let _ = writeln!(
            svg,
            "\n<svg x=\"{LEFT}\" y=\"{top}\" width=\"{wide}\" height=\"{}\" viewBox=\"0 0 {across} {HEIGHT}\" \
             preserveAspectRatio=\"none\">{background}<path class=\"level\" d=\"{levels}\"/>{}\
             <path class=\"box\" d=\"M0 0V{HEIGHT}H{across}\"/></svg>",
            self.height, self.marks
        );
    }
}

/// The words for a period: its first and last day.
#[must_use]
pub fn period(start_us: i64, end_us: i64) -> String {
    let (first, last) = (civil(start_us), civil(end_us - 1));
    if first.date() == last.date() {
        return format!("{} {}", wording::day(first), first.year());
    }
    format!(
        "{} to {} {}",
        wording::day(first),
        wording::day(last),
        last.year()
    )
}
