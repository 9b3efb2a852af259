//! What is to be read, before anybody sets it: sections of paragraphs, lists, tables and drawings.
//!
//! [`super::say`] writes it, once; [`super::terminal`] and [`super::html`] print it. A class is the page's business: it is one
//! of `html/style.css`, and the terminal does not look at it.

use super::picture::Picture;
use crate::adjuster::{LeakState, Movement, Real};
use crate::aim::Outcome;
use crate::isolate::Standing;
use crate::language::Language;

/// How the page sets something, by a class of its style sheet; empty for the ordinary.
pub(crate) type Class = &'static str;

/// The sign that stands before a word, so that neither colour nor reading is needed to tell what is good from what is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sign {
    Good,
    Bad,
    Open,
    Refused,
    Moves,
    Still,
    Faint,
    Beware,
}

impl Sign {
    /// The sign as a letter.
    pub fn letter(self) -> char {
        match self {
            Self::Good => '✓',
            Self::Bad => '✗',
            Self::Open => '?',
            Self::Refused => '∅',
            Self::Moves => '↕',
            Self::Still => '=',
            Self::Faint => '·',
            Self::Beware => '!',
        }
    }
}

impl Sign {
    /// The sign that is to be drawn for a letter which few fonts hold.
    pub fn drawn_for(letter: char) -> Option<Self> {
        let drawn = [Self::Good, Self::Bad, Self::Refused, Self::Moves];
        drawn.into_iter().find(|sign| sign.letter() == letter)
    }
}

impl From<Outcome> for Sign {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Inside => Self::Good,
            Outcome::Outside => Self::Bad,
            Outcome::Undecided => Self::Open,
        }
    }
}

impl From<Movement> for Sign {
    fn from(movement: Movement) -> Self {
        match movement {
            Movement::Moves => Self::Moves,
            Movement::Still => Self::Still,
            Movement::CannotTell => Self::Open,
        }
    }
}

impl From<Real> for Sign {
    fn from(real: Real) -> Self {
        match real {
            Real::Real => Self::Moves,
            Real::NoChange => Self::Still,
            Real::CannotTell => Self::Open,
        }
    }
}

impl From<LeakState> for Sign {
    fn from(state: LeakState) -> Self {
        match state {
            LeakState::Holds => Self::Good,
            LeakState::Leaks => Self::Bad,
            LeakState::CannotTell => Self::Open,
        }
    }
}

impl From<Standing> for Sign {
    fn from(standing: Standing) -> Self {
        match standing {
            Standing::Suspected => Self::Bad,
            Standing::Possible => Self::Open,
            Standing::Cleared => Self::Good,
            Standing::Open => Self::Faint,
        }
    }
}

/// A run of letters that are set alike.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Run {
    Plain(String),
    Strong(String),
    Emphasis(String),
    Code(String),
    /// Letters set low, as the base of a logarithm.
    Low(String),
    /// What something came to, with its sign.
    Word(Option<Sign>, String),
    /// A sign by itself.
    Sign(Sign),
}

/// A text of one line or many, without anything that a reader would have to undo.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Text(pub Vec<Run>);

impl Text {
    fn with(mut self, run: Run) -> Self {
        self.0.push(run);
        self
    }

    pub fn plain(self, text: impl Into<String>) -> Self {
        self.with(Run::Plain(text.into()))
    }

    pub fn strong(self, text: impl Into<String>) -> Self {
        self.with(Run::Strong(text.into()))
    }

    pub fn emphasis(self, text: impl Into<String>) -> Self {
        self.with(Run::Emphasis(text.into()))
    }

    pub fn code(self, text: impl Into<String>) -> Self {
        self.with(Run::Code(text.into()))
    }

    pub fn low(self, text: impl Into<String>) -> Self {
        self.with(Run::Low(text.into()))
    }

    /// A word that names what something came to, with its sign.
    pub fn word(self, sign: impl Into<Sign>, text: impl ToString) -> Self {
        self.with(Run::Word(Some(sign.into()), text.to_string()))
    }

    /// As [`Self::word`], where the sign stands elsewhere.
    pub fn bare_word(self, text: impl ToString) -> Self {
        self.with(Run::Word(None, text.to_string()))
    }

    pub fn sign(self, sign: impl Into<Sign>) -> Self {
        self.with(Run::Sign(sign.into()))
    }

    pub fn then(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self
    }

    /// The same without the signs of its words.
    pub fn unsigned(mut self) -> Self {
        for run in &mut self.0 {
            if let Run::Word(sign, _) = run {
                *sign = None;
            }
        }
        self
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The first sign, which says how the whole is meant.
    pub fn first_sign(&self) -> Option<Sign> {
        self.0.iter().find_map(|run| match run {
            Run::Word(sign, _) => *sign,
            Run::Sign(sign) => Some(*sign),
            _ => None,
        })
    }
}

/// The letters alone.
impl std::fmt::Display for Text {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for run in &self.0 {
            match run {
                Run::Word(Some(sign), text) => write!(f, "{} {text}", sign.letter())?,
                Run::Plain(text)
                | Run::Strong(text)
                | Run::Emphasis(text)
                | Run::Code(text)
                | Run::Low(text)
                | Run::Word(None, text) => f.write_str(text)?,
                Run::Sign(sign) => write!(f, "{} ", sign.letter())?,
            }
        }
        Ok(())
    }
}

impl From<String> for Text {
    fn from(text: String) -> Self {
        if text.is_empty() {
            Self::default()
        } else {
            Self::default().plain(text)
        }
    }
}

impl From<&str> for Text {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

/// An item of a list.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Item {
    pub sign: Option<Sign>,
    /// What stands before the text: each in a column of its own in the terminal, and in running text before what goes with
    /// it there.
    pub lead: Vec<(Text, &'static str)>,
    pub text: Text,
    /// What is said below it.
    pub more: Text,
}

impl<T: Into<Text>> From<T> for Item {
    fn from(text: T) -> Self {
        Self {
            text: text.into(),
            ..Self::default()
        }
    }
}

impl Item {
    pub fn signed(sign: impl Into<Sign>, text: impl Into<Text>) -> Self {
        Self {
            sign: Some(sign.into()),
            ..text.into().into()
        }
    }
}

/// A list; where it is ordered and has no signs, numbered.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct List {
    pub class: Class,
    pub ordered: bool,
    /// Terminal columns of each item's lead at the least.
    pub lead_columns: usize,
    pub items: Vec<Item>,
}

/// A column of a table, and how a terminal fits it in.
#[derive(Debug, Clone, Default)]
pub(crate) struct Column {
    pub title: &'static str,
    pub class: Class,
    /// Terminal columns at the least; where it is narrower, it is filled up.
    pub least: usize,
    /// Terminal columns at the most; a longer cell is cut. 0: as many as there are.
    pub most: usize,
    /// Cells are set to the right.
    pub right: bool,
    /// A path, which is cut to what the other columns leave.
    pub path: bool,
    /// It goes where paths could not be told apart otherwise.
    pub spare: bool,
}

impl Column {
    pub fn new(class: Class, title: &'static str) -> Self {
        Self {
            title,
            class,
            ..Self::default()
        }
    }
}

/// A cell, over one column or several.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cell {
    pub text: Text,
    pub span: usize,
    /// What it is called where the column's title does not fit.
    pub label: Option<&'static str>,
}

impl<T: Into<Text>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self {
            text: text.into(),
            span: 1,
            label: None,
        }
    }
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Table {
    pub class: Class,
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Cell>>,
    /// Terminal columns between two of the table's; 0: two, or one where two do not fit.
    pub gap: usize,
}

impl Table {
    pub fn new<const N: usize>(class: Class, columns: [(Class, &'static str); N]) -> Self {
        Self {
            class,
            columns: columns.map(|(class, title)| Column::new(class, title)).to_vec(),
            ..Self::default()
        }
    }

    pub fn row<const N: usize>(&mut self, cells: [Cell; N]) {
        self.rows.push(cells.to_vec());
    }

    /// The table with a note below it; nothing where it has no rows.
    pub fn noted(self, note: impl Into<Text>) -> Vec<Block> {
        if self.rows.is_empty() {
            return Vec::new();
        }
        vec![Block::Table(self), Block::Paragraph("note", note.into())]
    }
}

/// A piece of a section.
#[derive(Debug, Clone)]
pub(crate) enum Block {
    Paragraph(Class, Text),
    /// What it is about, and what is said of it.
    Remark(String, Text),
    List(List),
    /// Names and what they are.
    Facts(Class, Vec<(&'static str, Text)>),
    Table(Table),
    /// A line and what belongs under it.
    Labelled(Text, Vec<Block>),
    /// Lines for a file.
    Entry(Vec<String>),
    /// A whole SVG document with its caption.
    Drawing(Class, String, String),
    /// Pictures of photos, side by side where there is room.
    Pictures(Vec<Picture>),
    Section(Section),
    /// Blocks that the page sets together.
    Group(Class, Vec<Block>),
    /// Blocks that the page shows when asked, under this title.
    Details(&'static str, Vec<Block>),
}

impl Block {
    pub fn text(text: impl Into<Text>) -> Self {
        Self::Paragraph("", text.into())
    }

    pub fn note(text: impl Into<Text>) -> Self {
        Self::Paragraph("note", text.into())
    }
}

/// How high a section's heading stands on the page.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Rank {
    #[default]
    Chapter,
    /// One of several alike: a lamp, a photo.
    Card,
    Part,
}

/// How a terminal sets a section's paragraphs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum Margin {
    /// First lines at the margin, the others further in.
    #[default]
    Hanging,
    /// At the margin.
    Flush,
    /// Further in than the heading. Without a heading it goes on at the margin, below the section before.
    Inside,
}

#[derive(Debug, Clone, Default)]
pub(crate) struct Section {
    pub rank: Rank,
    pub class: Class,
    pub heading: Text,
    pub margin: Margin,
    pub blocks: Vec<Block>,
}

impl Section {
    pub fn new(heading: impl Into<Text>, blocks: Vec<Block>) -> Self {
        Self {
            heading: heading.into(),
            blocks,
            ..Self::default()
        }
    }

    /// A part of a chapter.
    pub fn part(class: Class, heading: impl Into<Text>, blocks: Vec<Block>) -> Self {
        Self {
            rank: Rank::Part,
            class,
            ..Self::new(heading, blocks)
        }
    }

    /// One of several alike.
    pub fn card(class: Class, heading: impl Into<Text>, blocks: Vec<Block>) -> Self {
        Self {
            rank: Rank::Card,
            class,
            ..Self::new(heading, blocks)
        }
    }
}

/// A whole text.
#[derive(Debug, Clone, Default)]
pub(crate) struct Document {
    /// What it is said in.
    pub language: Language,
    /// What it is called where only a name fits.
    pub title: String,
    /// What stands above it.
    pub heading: String,
    /// What comes before its sections.
    pub opening: Vec<Block>,
    /// Its sections; one without heading and blocks is not there.
    pub sections: Vec<Section>,
    /// What they rest on, for whoever looks closer.
    pub annex: Vec<Section>,
}
/// Whether a fact's value is a sentence and no figure: it has the breadth of the page to itself.
pub(super) fn is_sentence(value: &Text) -> bool {
    const MOST_OF_A_FIGURE: usize = 60;
    value.to_string().chars().count() > MOST_OF_A_FIGURE
}
