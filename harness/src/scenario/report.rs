//! What is wrong with a scenario, said so that the next step is clear.

use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError,
    MietteSpanContents, SourceCode, SourceSpan, SpanContents,
};
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// How many problems are shown; the rest are counted.
const SHOWN: usize = 8;
/// Width of a plain report, characters.
const PLAIN_WIDTH: usize = 88;

/// What sort of problem it is; stable words for programs that read the JSON form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// The file cannot be read at all.
    File,
    /// The text is not TOML (or the record not CSV).
    Syntax,
    /// A word that the scenario language does not have.
    UnknownWord,
    /// A value of another type than the key takes.
    WrongType,
    /// A value or key in another unit.
    WrongUnit,
    /// A value outside what is allowed.
    OutOfRange,
    /// Something that must be there is not.
    Missing,
    /// Each statement is fine by itself, but they do not go together.
    Conflict,
}

/// A text in which problems are found.
#[derive(Debug, Clone)]
pub(super) struct Document {
    name: String,
    text: Arc<str>,
}

impl Document {
    pub(super) fn new(name: &str, text: &str) -> Self {
        Self {
            name: name.to_owned(),
            text: Arc::from(text),
        }
    }

    pub(super) fn text(&self) -> &str {
        &self.text
    }

    /// Line and column, both from 1, the column in characters.
    pub(super) fn position(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..offset).unwrap_or(&self.text);
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        (
            before.matches('\n').count() + 1,
            before[line_start..].chars().count() + 1,
        )
    }

    pub(super) fn line(&self, offset: usize) -> usize {
        self.position(offset).0
    }

    /// A problem with a stretch of this text; `label` says what the stretch is.
    pub(super) fn problem(
        &self,
        kind: Kind,
        span: Range<usize>,
        message: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) -> Problem {
        let span = self.visible(span);
        let (line, column) = self.position(span.start);
        Problem {
            kind,
            file: self.name.clone(),
            line: Some(line),
            column: Some(column),
            message: message.into(),
            help: help.into(),
            source: Some(self.clone()),
            labels: vec![LabeledSpan::new_primary_with_span(Some(label.into()), span)],
        }
    }

    /// An empty span cannot be underlined: take the last character before it that can, or, at the start of
    /// the text, the first.
    fn visible(&self, span: Range<usize>) -> Range<usize> {
        if !span.is_empty() {
            return span;
        }
        let before = self.text.get(..span.start).unwrap_or(&self.text).trim_end();
        match before.chars().next_back() {
            Some(last) => before.len() - last.len_utf8()..before.len(),
            None => 0..self.text.chars().next().map_or(0, char::len_utf8),
        }
    }
}

impl SourceCode for Document {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        lines_before: usize,
        lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let found = self.text.read_span(span, lines_before, lines_after)?;
        // The library counts the column in bytes; people and editors count characters.
        let column = match found.column() {
            0 => 0,
            _ => self.position(span.offset()).1 - 1,
        };
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            found.data(),
            *found.span(),
            found.line(),
            column,
            found.line_count(),
        )))
    }
}

/// One thing that is wrong.
#[derive(Debug, Clone)]
pub struct Problem {
    kind: Kind,
    file: String,
    line: Option<usize>,
    column: Option<usize>,
    message: String,
    help: String,
    source: Option<Document>,
    labels: Vec<LabeledSpan>,
}

impl Problem {
    /// A problem with a file as a whole.
    pub(super) fn with_file(
        file: &str,
        kind: Kind,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        Self {
            kind,
            file: file.to_owned(),
            line: None,
            column: None,
            message: message.into(),
            help: help.into(),
            source: None,
            labels: Vec::new(),
        }
    }

    /// Point at a second place of the same text, which must not overlap the first.
    pub(super) fn and_at(mut self, span: Range<usize>, label: impl Into<String>) -> Self {
        self.labels
            .push(LabeledSpan::new_with_span(Some(label.into()), span));
        self
    }

    /// What sort of problem it is.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Line and column, both from 1, the column in characters; `None` for a problem with the file as a whole.
    #[must_use]
    pub fn position(&self) -> Option<(usize, usize)> {
        self.line.zip(self.column)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Problem {}

impl Diagnostic for Problem {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.help))
    }
    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.source.as_ref().map(|source| source as &dyn SourceCode)
    }
    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        Some(Box::new(self.labels.iter().cloned()))
    }
}

/// Everything that was found wrong with a scenario: at least one problem, in the order of the file.
#[derive(Debug, Clone)]
pub struct Report {
    first: Box<Problem>,
    others: Vec<Problem>,
}

/// One problem in the JSON form.
#[derive(Serialize)]
struct Entry<'p> {
    file: &'p str,
    line: Option<usize>,
    column: Option<usize>,
    kind: Kind,
    message: &'p str,
    help: &'p str,
}

impl Report {
    pub(super) fn one(problem: Problem) -> Self {
        Self {
            first: Box::new(problem),
            others: Vec::new(),
        }
    }

    /// `None` when there is no problem.
    pub(super) fn of(mut problems: Vec<Problem>) -> Option<Self> {
        // A stable sort: problems of the scenario come before those of its record, which is read last.
        let scenario = problems.first()?.file.clone();
        problems.sort_by_key(|problem| (problem.file != scenario, problem.position()));
        // What holds for all stations is looked at with each of them.
        let mut told = BTreeSet::new();
        problems.retain(|problem| {
            problem.line.is_none() || told.insert((problem.position(), problem.message.clone()))
        });
        let mut problems = problems.into_iter();
        Some(Self {
            first: Box::new(problems.next()?),
            others: problems.collect(),
        })
    }

    /// All problems, in the order of the file.
    pub fn problems(&self) -> impl Iterator<Item = &Problem> {
        std::iter::once(&*self.first).chain(&self.others)
    }

    /// For files and pipes: no colour, nothing but ASCII of our own, lines of at most 88 characters where the scenario's
    /// own lines allow it.
    #[must_use]
    pub fn plain(&self) -> String {
        let mut theme = GraphicalTheme::none();
        theme.characters = miette::ThemeCharacters::ascii();
        theme.characters.error = "error:".into();
        self.render(
            GraphicalReportHandler::new_themed(theme)
                .with_width(PLAIN_WIDTH)
                .with_break_words(false)
                .with_context_lines(1)
                .without_syntax_highlighting(),
        )
    }

    /// For a terminal of the given width: colours and line drawing.
    #[must_use]
    pub fn fancy(&self, width: usize) -> String {
        self.render(
            GraphicalReportHandler::new_themed(GraphicalTheme::unicode())
                .with_width(width)
                .with_break_words(false)
                .without_syntax_highlighting(),
        )
    }

    fn render(&self, handler: GraphicalReportHandler) -> String {
        let mut text = String::new();
        for (count, problem) in self.problems().enumerate() {
            if count == SHOWN {
                let rest = self.others.len() + 1 - SHOWN;
                text.push_str(&format!("\n  and {rest} more; mend these first.\n"));
                break;
            }
            if count > 0 {
                text.push('\n');
            }
            let mut one = String::new();
            // Writing to a String cannot fail; a source that cannot be read is said in the text itself.
            let _ = handler.render_report(&mut one, problem);
            if problem.source.is_none() {
                one.push_str(&format!("  file: {}\n", problem.file));
            }
            text.push_str(&one);
        }
        // No line of a report ends in blanks: they would only make it differ from copy to copy.
        text.lines()
            .map(|line| format!("{}\n", line.trim_end()))
            .collect()
    }

    /// For programs: `{"problems":[{"file","line","column","kind","message","help"}]}`; line and column
    /// are null for a problem with the file as a whole.
    #[must_use]
    pub fn to_json(&self) -> serde_json::Value {
        let entries: Vec<_> = self
            .problems()
            .map(|problem| Entry {
                file: &problem.file,
                line: problem.line,
                column: problem.column,
                kind: problem.kind,
                message: &problem.message,
                help: &problem.help,
            })
            .collect();
        serde_json::json!({ "problems": entries })
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.first.fmt(f)
    }
}

impl std::error::Error for Report {}

impl Diagnostic for Report {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.first.help()
    }
    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.first.source_code()
    }
    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        self.first.labels()
    }
    fn related<'a>(&'a self) -> Option<Box<dyn Iterator<Item = &'a dyn Diagnostic> + 'a>> {
        Some(Box::new(
            self.others.iter().map(|problem| problem as &dyn Diagnostic),
        ))
    }
}
