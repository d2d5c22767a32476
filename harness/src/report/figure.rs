//! One figure: a caption, one or two charts over the same time axis, and the labels around them.
//!
//! Labels are HTML beside the stretched SVG, so that they keep their size on a telephone.

use super::chart::{HEIGHT, Scale};
use super::timeline::{Tick, Timeline};
use super::wording;
use std::fmt::Write as _;

/// The words of a label on the vertical axis.
type LabelOf = fn(f64, usize) -> String;

/// One chart of a figure.
#[derive(Debug)]
pub(super) struct Chart {
    scale: Scale,
    /// Height on the page, in tenths of the page's letter size.
    height: u32,
    /// What a reader who cannot see the chart is told.
    sentence: String,
    /// Small words above a chart that is not the first of its figure.
    heading: String,
    /// Further classes of the style sheet, with a space before.
    class: &'static str,
    label_of: LabelOf,
    marks: String,
    zero: bool,
}

impl Chart {
    pub(super) fn new(scale: Scale, height: u32, sentence: String) -> Self {
        Self {
            scale,
            height,
            sentence,
            heading: String::new(),
            class: "",
            label_of: |value, decimals| wording::value(Some(value), decimals),
            marks: String::new(),
            zero: false,
        }
    }

    pub(super) fn scale(&self) -> &Scale {
        &self.scale
    }

    /// Words above the chart.
    pub(super) fn heading(mut self, words: impl Into<String>) -> Self {
        self.heading = words.into();
        self
    }

    /// Other labels than numbers.
    pub(super) fn labels(mut self, label_of: LabelOf) -> Self {
        self.label_of = label_of;
        self
    }

    /// A lane: nearer to its neighbours than a chart.
    pub(super) fn lane(mut self) -> Self {
        self.class = " lane";
        self
    }

    /// Draw the level of zero.
    pub(super) fn with_zero(mut self) -> Self {
        self.zero = true;
        self
    }

    /// Add a path of one of the classes of the style sheet; an empty path is left out.
    pub(super) fn mark(&mut self, class: &str, path: &str) {
        if !path.is_empty() {
            let _ = write!(self.marks, "<path class=\"{class}\" d=\"{path}\"/>");
        }
    }

    pub(super) fn write(
        &self,
        html: &mut String,
        timeline: &Timeline,
        over: &str,
        background: &str,
    ) {
        let across = 2 * timeline.count;
        if !self.heading.is_empty() {
            let _ = write!(
                html,
                "<div class=\"under\">{}</div>",
                wording::escape(&self.heading)
            );
        }
        let _ = write!(
            html,
            "<div class=\"chart{}\" style=\"height:{}.{}em\"><div class=\"y\" aria-hidden=\"true\">",
            self.class,
            self.height / 10,
            self.height % 10
        );
        let mut levels = String::new();
        for tick in &self.scale.ticks {
            let depth = self.scale.depth(*tick);
            let label = (self.label_of)(*tick, self.scale.decimals);
            let _ = write!(
                html,
                "<span style=\"top:{:.1}%\">{label}</span>",
                depth * 100.0
            );
            let _ = write!(
                levels,
                "M0 {}h{across}",
                (depth * HEIGHT as f64).round() as i64
            );
        }
        let _ = write!(
            html,
            "</div><div class=\"plot\"><svg viewBox=\"0 0 {across} {HEIGHT}\" \
             preserveAspectRatio=\"none\" role=\"img\" aria-label=\"{}\">{background}\
             <path class=\"level\" d=\"{levels}\"/><use href=\"#ticks\"/>",
            wording::escape(&self.sentence)
        );
        if self.zero {
            let zero = (self.scale.depth(0.0) * HEIGHT as f64).round() as i64;
            let _ = write!(html, "<path class=\"zero\" d=\"M0 {zero}h{across}\"/>");
        }
        html.push_str(&self.marks);
        let _ = write!(html, "</svg>{over}");
        html.push_str("</div></div>");
    }
}

/// What all figures of a page share.
#[derive(Debug)]
pub(super) struct Frame {
    pub timeline: Timeline,
    /// Labels of the fault bands, ready to stand above a plot.
    pub tags: String,
    /// The time labels, ready to stand under a plot.
    pub times: String,
}

impl Frame {
    pub(super) fn new(timeline: Timeline, tags: String, ticks: &[Tick]) -> Self {
        let mut times = String::from("<div class=\"x\" aria-hidden=\"true\">");
        for (index, tick) in ticks.iter().enumerate() {
            // Narrow screens show every other label.
            let class = if index % 2 == 1 && ticks.len() > 6 {
                " class=\"odd\""
            } else {
                ""
            };
            let _ = write!(
                times,
                "<span{class} style=\"left:{:.2}%\">{}</span>",
                tick.share * 100.0,
                tick.label
            );
        }
        times.push_str("</div>");
        Self {
            timeline,
            tags,
            times,
        }
    }

    /// A whole figure. `title`, `unit` and `note` are this program's words, not the scenario's.
    pub(super) fn figure(&self, title: &str, unit: &str, note: &str, charts: &[Chart]) -> String {
        let mut html = format!("<figure><figcaption><b>{title}</b>");
        if !unit.is_empty() {
            let _ = write!(html, " <span class=\"unit\">{unit}</span>");
        }
        if !note.is_empty() {
            let _ = write!(html, " <span class=\"note\">{note}</span>");
        }
        html.push_str("</figcaption>");
        html.push_str(&self.tags);
        let background = "<use href=\"#nights\"/><use href=\"#bands\"/>";
        for chart in charts {
            chart.write(&mut html, &self.timeline, "", background);
        }
        html.push_str(&self.times);
        html.push_str("</figure>");
        html
    }
}
