//! What each ink is of: headings, paragraphs, cells, figures with their words, so that a reader that speaks can follow.
//! Definitions: ISO 32000-1, 14.8.4.

use pdf_writer::types::StructRole;

/// An element of the document's structure; [`ARTIFACT`] stands for what is none, as a page's number.
pub(super) type Tag = usize;

/// The element that holds all others; an ink of it is of no element.
pub(super) const ARTIFACT: Tag = 0;

/// An element.
#[derive(Debug)]
pub(super) struct Element {
    pub role: StructRole,
    /// In place of what is seen.
    pub alt: Option<String>,
    pub inside: Vec<Tag>,
    pub parent: Tag,
}

/// The elements in their order; the first is the document.
#[derive(Debug)]
pub(super) struct Tags(pub Vec<Element>);

impl Tags {
    pub fn new() -> Self {
        let document = Element {
            role: StructRole::Document,
            alt: None,
            inside: Vec::new(),
            parent: ARTIFACT,
        };
        Self(vec![document])
    }

    /// A new element within another.
    pub fn add(&mut self, parent: Tag, role: StructRole) -> Tag {
        self.described(parent, role, None)
    }

    /// A new element with words in its place.
    pub fn described(&mut self, parent: Tag, role: StructRole, alt: Option<String>) -> Tag {
        let tag = self.0.len();
        self.0.push(Element {
            role,
            alt,
            inside: Vec::new(),
            parent,
        });
        if let Some(parent) = self.0.get_mut(parent) {
            parent.inside.push(tag);
        }
        tag
    }
}
