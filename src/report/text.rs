//! Small jobs on text that comes from the user or from a photo: made safe, shortened, wrapped; and figures written
//! the same way everywhere.

use crate::language::Language;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

pub(crate) use crate::record::round;

/// `value` with `decimals` places and a point, as a machine form has it, never as "-0.00".
pub(crate) fn decimal(value: f64, decimals: usize) -> String {
    let places = i32::try_from(decimals).unwrap_or(0);
    format!("{:.decimals$}", round(value, places))
}

/// `value` with `decimals` places, never as "-0.00", for people to read.
pub(crate) fn fixed(language: Language, value: f64, decimals: usize) -> String {
    language.shown(&decimal(value, decimals))
}

/// `value` rounded to `places`, without places that say nothing, for people to read.
pub(crate) fn shortest(language: Language, value: f64, places: i32) -> String {
    language.shown(&round(value, places).to_string())
}

/// As [`fixed`], with the sign also of positive figures.
pub(crate) fn signed(language: Language, value: f64, decimals: usize) -> String {
    let text = fixed(language, value, decimals);
    if text.starts_with('−') {
        text
    } else {
        format!("+{text}")
    }
}

/// An uncertainty in per cent with two places. One too small for that is shown as the least figure that two places
/// can hold, since "± 0.00" would claim that there is none.
pub(crate) fn u95(language: Language, value_percent: f64) -> String {
    if value_percent > 0.0 && value_percent < 0.01 {
        language.figure("0.01")
    } else {
        fixed(language, value_percent, 2)
    }
}

/// A date, and a time behind it, as people write it; what is no date as machines write it stays as it is.
pub(crate) fn date(language: Language, written: &str) -> String {
    let is_date = |text: &str| {
        let form = text.bytes().map(|byte| if byte.is_ascii_digit() { b'0' } else { byte });
        form.eq(*b"0000-00-00")
    };
    match (language, written.split_at_checked(10)) {
        (Language::German, Some((date, rest))) if is_date(date) && !rest.starts_with(|c: char| c.is_alphanumeric()) => {
            format!("{}.{}.{}{rest}", &date[8..], &date[5..7], &date[..4])
        }
        _ => written.to_owned(),
    }
}

/// Text without the characters that XML does not know or that make text read otherwise than it is written.
pub(crate) fn harmless(text: &str) -> String {
    let safe = |c: char| match c {
        '\n' | '\t' => c,
        c if misleads(c) || c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => '\u{fffd}',
        c => c,
    };
    text.chars().map(safe).collect()
}

/// As [`harmless`]; a figure, its ± and its % stay on one line, and so does a sign with the word that it stands for.
pub(crate) fn kept_together(text: &str) -> String {
    let figures = harmless(text).replace(" %", "\u{a0}%").replace(" ± ", "\u{a0}±\u{a0}");
    figures.replace("✓ ", "✓\u{a0}").replace("✗ ", "✗\u{a0}")
}

/// XML text or attribute value (in double or single quotes) from any text, for drawings that are put together as text.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 16);
    for c in harmless(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// Characters that change the direction of what follows, or that nobody sees, with which a name can be made to read as
/// another. The joiners U+200C and U+200D stay: scripts need them.
fn misleads(c: char) -> bool {
    matches!(c, '\u{61c}' | '\u{180e}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{e0000}'..='\u{e007f}')
}

/// One line that is safe to send to a terminal: no escape sequences, no line breaks, nothing that has no width of
/// its own and might be counted wrongly.
pub(crate) fn plain(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c.is_whitespace() {
                ' '
            } else if c.is_control() || misleads(c) {
                '\u{fffd}'
            } else {
                c
            }
        })
        .collect()
}

/// JSON with what a terminal would obey, or what reads otherwise than it is written, as escapes; they mean the same.
pub(crate) fn escaped_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if (c.is_control() && c != '\n') || misleads(c) {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            out.push(c);
        }
    }
    out
}

/// Number of terminal columns that `text` takes.
pub(crate) fn width(text: &str) -> usize {
    // The sum over characters is never less than what a terminal shows, which joins some of them.
    text.chars()
        .map(|c| c.width().unwrap_or(0))
        .sum::<usize>()
        .max(text.width())
}

/// `text` cut in the middle to at most `columns`, its end favoured, as the end tells files apart.
pub(crate) fn shorten(text: &str, columns: usize) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let Some(room) = columns.checked_sub(1) else {
        return String::new();
    };
    let (head, tail) = (room / 3, room - room / 3);
    let mut start = String::new();
    for c in text.chars() {
        start.push(c);
        if width(&start) > head {
            start.pop();
            break;
        }
    }
    let mut end: Vec<char> = Vec::new();
    let mut used = 0;
    for c in text.chars().rev() {
        used += c.width().unwrap_or(0);
        if used > tail {
            break;
        }
        end.push(c);
    }
    format!("{start}…{}", end.into_iter().rev().collect::<String>())
}

/// A path cut to at most `columns`: its folders first, the file's name only where that alone is too long.
pub(crate) fn shorten_path(path: &str, columns: usize) -> String {
    let name = path.rsplit(['/', '\\']).next().unwrap_or(path);
    if width(path) <= columns || width(name) >= columns {
        return shorten(if width(path) <= columns { path } else { name }, columns);
    }
    let mut kept = String::new();
    for (at, _) in path.char_indices().rev() {
        if width(&path[at..]) >= columns {
            break;
        }
        path[at..].clone_into(&mut kept);
    }
    format!("…{kept}")
}

/// `text` filled up with blanks to `columns`.
pub(crate) fn pad(text: &str, columns: usize) -> String {
    format!("{text}{}", " ".repeat(columns.saturating_sub(width(text))))
}

/// `text` wrapped to lines of at most `columns`, all but the first indented by `indent`. A word that is longer than a
/// line is cut.
pub(crate) fn wrap(text: &str, columns: usize, indent: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0;
    // Column from which the words of the current line start.
    let mut margin = 0;
    for word in text.split_whitespace() {
        let blank = usize::from(used > margin);
        if used + blank + width(word) > columns && used > margin {
            lines.push(" ".repeat(indent));
            (used, margin) = (indent, indent);
        } else if blank == 1 {
            push(&mut lines, ' ');
            used += 1;
        }
        for c in word.chars() {
            let wide = c.width().unwrap_or(0);
            if used + wide > columns {
                lines.push(" ".repeat(indent));
                (used, margin) = (indent, indent);
            }
            push(&mut lines, c);
            used += wide;
        }
    }
    lines
}

fn push(lines: &mut [String], c: char) {
    if let Some(line) = lines.last_mut() {
        line.push(c);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_never_read_as_minus_zero() {
        assert_eq!(fixed(Language::English, -0.001, 2), "0.00");
        assert_eq!(signed(Language::English, -0.001, 2), "+0.00");
        assert_eq!(signed(Language::English, -0.41, 2), "−0.41");
        assert_eq!(u95(Language::English, 0.0012), "0.01");
        assert_eq!(u95(Language::English, 0.0), "0.00");
        assert_eq!(u95(Language::German, 0.0012), "0,01");
        assert_eq!(signed(Language::German, 1.5, 2), "+1,50");
        assert_eq!(signed(Language::German, -0.38, 2), "−0,38");
        assert!(round(-0.00001, 4).is_sign_positive());
    }

    #[test]
    fn dates_are_written_as_people_write_them() {
        let german = |written: &str| date(Language::German, written);
        assert_eq!(german("2031-03-05"), "05.03.2031");
        assert_eq!(german("2031-03-05 08:09:10"), "05.03.2031 08:09:10");
        for other in ["March 2031", "2031-03", "2031-03-050", "zweiter März", "2031-03-05T08"] {
            assert_eq!(german(other), other);
        }
        assert_eq!(date(Language::English, "2031-03-05"), "2031-03-05");
    }

    #[test]
    fn markup_and_direction_marks_lose_their_force() {
        assert_eq!(
            escape("<script>alert('x')</script>&\"\u{202e}\u{1b}"),
            "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;&quot;\u{fffd}\u{fffd}"
        );
        assert_eq!(plain("a\u{1b}[31mb\nc"), "a\u{fffd}[31mb c");
        assert_eq!(
            plain("a\u{9b}31m\u{61c}\u{feff}\u{e0041}"),
            "a\u{fffd}31m\u{fffd}\u{fffd}\u{fffd}"
        );
        let text = "a\u{9b}\u{202e}\u{7f}\u{e0041}é";
        let json = escaped_json(&serde_json::to_string(text).unwrap());
        assert_eq!(json, "\"a\\u009b\\u202e\\u007f\\udb40\\udc41é\"");
        assert_eq!(serde_json::from_str::<String>(&json).unwrap(), text);
    }

    #[test]
    fn shortening_keeps_both_ends_and_the_width() {
        assert_eq!(shorten("photos/0001.jpg", 15), "photos/0001.jpg");
        assert_eq!(shorten("photos/0001.jpg", 13), "phot…0001.jpg");
        for columns in 0..12 {
            for text in [
                "abcdefghijklmnop",
                "照片照片照片照片",
                "é\u{301}é\u{301}é\u{301}é\u{301}é\u{301}é\u{301}é\u{301}",
            ] {
                assert!(width(&shorten(text, columns)) <= columns, "{text} {columns}");
            }
        }
    }

    #[test]
    fn paths_lose_their_folders_first() {
        assert_eq!(shorten_path("photos/0001.jpg", 15), "photos/0001.jpg");
        assert_eq!(shorten_path("photos/0001.jpg", 11), "…s/0001.jpg");
        assert_eq!(shorten_path("photos/0001.jpg", 8), "0001.jpg");
        assert_eq!(shorten_path("photos/0001.jpg", 7), "00….jpg");
    }

    #[test]
    fn wrapping_keeps_the_width_and_every_word() {
        let text = "Too much light: shorten the exposure to 1/250 s, or use /a/very/long/path/that/does/not/fit.jpg";
        let lines = wrap(text, 30, 2);
        assert!(lines.iter().all(|line| width(line) <= 30), "{lines:?}");
        assert!(lines[1].starts_with("  ") && !lines[1].starts_with("   "));
        let joined: String = lines.iter().flat_map(|l| l.chars()).filter(|c| *c != ' ').collect();
        assert_eq!(joined, text.replace(' ', ""));
    }
}
