//! What a test asks of a text in two languages: whether English words are left in it, and which numbers it holds.

use std::collections::BTreeMap;

/// Words that hardly an English sentence does without, and that no German one has.
const ENGLISH_WORDS: [&str; 44] = [
    "a", "and", "are", "as", "at", "be", "beam", "been", "but", "by", "each", "for", "from", "has", "have", "if", "is",
    "it", "its", "lamp", "not", "of", "on", "one", "only", "or", "photo", "photos", "still", "than", "that", "the",
    "then", "there", "these", "this", "to", "which", "while", "where", "with", "without", "inside", "outside",
];

/// Where English words stand in a text that should hold none, each with what stands about it. Each line is by itself where `by_line`.
pub fn english_in(text: &str, by_line: bool) -> Vec<String> {
    let whole = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let pieces: Vec<&str> = if by_line { text.lines().collect() } else { vec![&whole] };
    let mut left = Vec::new();
    for piece in pieces {
        // A path's or a key's parts are no words.
        let words: Vec<&str> = piece
            .split_whitespace()
            .map(|word| word.trim_matches(|c: char| !c.is_alphanumeric() && c != '-'))
            .filter(|word| word.contains(char::is_alphabetic))
            .collect();
        for (n, word) in words.iter().enumerate() {
            if ENGLISH_WORDS.contains(&word.to_lowercase().as_str()) {
                let around = &words[n.saturating_sub(3)..(n + 4).min(words.len())];
                left.push(format!("… {} …", around.join(" ")));
            }
        }
    }
    left
}

/// What a page says, to the eye and to the ear, a piece a line.
pub fn text_of(page: &str) -> String {
    const SPOKEN: [&str; 3] = [" alt=\"", " data-label=\"", " aria-label=\""];
    let mut said = String::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        said.push_str(&rest[..start]);
        said.push('\n');
        let end = start + rest[start..].find('>').unwrap();
        let tag = &rest[start..end];
        for name in SPOKEN {
            if let Some((_, value)) = tag.split_once(name) {
                said.push_str(value.split('"').next().unwrap());
                said.push('\n');
            }
        }
        rest = &rest[end + 1..];
        if tag.starts_with("<style") {
            rest = &rest[rest.find("</style>").unwrap()..];
        }
    }
    for (entity, letter) in [
        ("&quot;", "\""),
        ("&#39;", "'"),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&amp;", "&"),
        ("\u{a0}", " "),
    ] {
        said = said.replace(entity, letter);
    }
    said
}

/// The numbers of a text in their order of size, dates as machines write them, with decimal points.
pub fn numbers(text: &str, german: bool) -> Vec<String> {
    let mut all = Vec::new();
    let mut number = String::new();
    for c in text.chars().chain([' ']) {
        if c.is_ascii_digit() || (matches!(c, '.' | ',' | '-') && number.ends_with(|c: char| c.is_ascii_digit())) {
            number.push(c);
            continue;
        }
        let said = number.trim_end_matches(['.', ',', '-']);
        if !said.is_empty() {
            let parts: Vec<&str> = said.split('.').collect();
            all.push(match parts.as_slice() {
                [day, month, year] if german && year.len() == 4 => format!("{year}-{month}-{day}"),
                _ if german => said.replace(',', "."),
                _ => said.to_owned(),
            });
        }
        number.clear();
    }
    all.sort();
    all
}

/// How often each is there.
pub fn counted(all: Vec<String>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for one in all {
        *counts.entry(one).or_insert(0) += 1;
    }
    counts
}
