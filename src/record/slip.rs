//! What a TOML error means to who wrote the file: which line, what stands there, and how to mend it.

use std::borrow::Cow;
use std::fmt::Write;

/// A key this like one that is known is taken to be a slip of it (Jaro-Winkler, 0 to 1; our choice, no source).
const ALIKE: f64 = 0.8;

/// Most characters of a file that a message quotes at once.
const MOST_QUOTED: usize = 60;
/// Most characters of what the TOML library says; its own sentences are shorter.
const MOST_SAID: usize = 200;

/// The first characters of a text, with an ellipsis where there are more.
fn shortened(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        None => Cow::Borrowed(text),
        Some((end, _)) => Cow::Owned(format!("{}…", &text[..end])),
    }
}

/// What a message quotes of a file.
fn quote(text: &str) -> Cow<'_, str> {
    shortened(text, MOST_QUOTED)
}

/// The words for an error of the TOML library in `text`.
pub(super) fn words(text: &str, error: &toml::de::Error) -> String {
    let message = error.message().trim();
    let at = error.span().map(|span| span.start.min(text.len()));
    let number = at.map(|at| text.as_bytes()[..at].iter().filter(|b| **b == b'\n').count());
    let line = number
        .and_then(|number| text.lines().nth(number))
        .unwrap_or_default()
        .trim();
    // A missing key is named at the table that lacks it, the whole file where that is not in one.
    let missing = message.strip_prefix("missing field");
    let mut said = match number {
        Some(number) if missing.is_none() || line.starts_with('[') => format!("line {}: ", number + 1),
        _ => String::new(),
    };
    let what = missing
        .map(|key| missing_key(key, line))
        .or_else(|| unknown(message))
        .or_else(|| slip(line))
        .or_else(|| wrong_type(message, line))
        .unwrap_or_else(|| plainly(message, line));
    said.push_str(&what);
    said
}

/// The names in backticks of a message.
fn quoted(message: &str) -> Vec<&str> {
    message.split('`').skip(1).step_by(2).collect()
}

fn missing_key(key: &str, line: &str) -> String {
    let key = key.trim().trim_matches('`');
    if line.starts_with('[') {
        format!("{} has no {key}; add {key} = … below it", quote(line))
    } else {
        format!("{key} is missing; add {key} = … above the first [[…]]")
    }
}

/// An unknown key or word, with what may have been meant.
fn unknown(message: &str) -> Option<String> {
    let (kind, _) = message.split_once(" `")?;
    let what = match kind {
        "unknown field" => "there is no key",
        "unknown variant" => "what is known does not include",
        _ => return None,
    };
    let names = quoted(message);
    let (given, known) = names.split_first()?;
    // No key is as long as what is cut off.
    let like = quote(given).to_lowercase();
    let likeness = |name: &&&str| strsim::jaro_winkler(&like, name);
    let best = known.iter().max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    let mut said = format!("{what} \"{}\"", quote(given));
    if let Some(best) = best.filter(|best| likeness(best) >= ALIKE) {
        let _ = write!(said, "; did you mean {best}?");
    }
    if !known.is_empty() {
        let _ = write!(said, " (known here: {})", known.join(", "));
    }
    Some(said)
}

/// Slips that the line itself shows.
fn slip(line: &str) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let (key, value) = (key.trim(), value.trim());
    let figure = value.split(['#', ' ']).next().unwrap_or_default().trim_end_matches(',');
    if let Some((whole, places)) = figure.split_once(',') {
        let is_number = |digits: &str| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
        if is_number(whole.trim_start_matches(['-', '+'])) && is_number(places) {
            let (key, mended) = (quote(key), format!("{whole}.{places}"));
            return Some(format!(
                "{key} = {}: decimals are written with a point; write {key} = {}",
                quote(figure),
                quote(&mended)
            ));
        }
    }
    if value.starts_with('"') && value.contains('\\') {
        let path = value.split('"').nth(1).unwrap_or_default();
        let mended = path.replace("\\\\", "\\").replace('\\', "/");
        let key = quote(key);
        return Some(format!(
            "{key} has a backslash; write paths with /: {key} = \"{}\"",
            quote(&mended)
        ));
    }
    None
}

/// A value of another type than the key's.
fn wrong_type(message: &str, line: &str) -> Option<String> {
    let (given, expected) = message.strip_prefix("invalid type: ")?.split_once(", expected ")?;
    let (key, value) = line.split_once('=').map(|(key, value)| (key.trim(), value.trim()))?;
    let wants_number = ["f64", "float", "u32", "usize", "integer"]
        .iter()
        .any(|number| expected.contains(number));
    let wants_text = ["string", "path"].iter().any(|text| expected.contains(text));
    let (unit, key) = (unit_of(key), quote(key));
    if given.starts_with("string") && wants_number {
        let inner = value.split('"').nth(1).unwrap_or_default().replace(',', ".");
        let figure: String = inner
            .trim()
            .chars()
            .take_while(|c| c.is_ascii_digit() || "+-.".contains(*c))
            .collect();
        let given = inner.trim().strip_prefix(figure.as_str()).unwrap_or_default().trim();
        let in_unit = figure.parse().ok().and_then(|figure| converted(unit?, figure, given));
        let said_unit = unit.map(|unit| format!(" (it is in {unit})")).unwrap_or_default();
        // What cannot be converted is not guessed at.
        let mended = match in_unit {
            Some(value) => Some(format!("{value}")),
            None if given.is_empty() && figure.parse::<f64>().is_ok() => Some(figure),
            None => None,
        };
        return Some(match mended {
            Some(mended) => format!(
                "{key} is a number, without quotation marks and without a unit{said_unit}: {key} = {}",
                quote(&mended)
            ),
            None => format!("{key} is a number, without quotation marks and without a unit{said_unit}"),
        });
    }
    if wants_text {
        let bare = value.split('#').next().unwrap_or_default().trim();
        return Some(format!("{key} wants quotation marks: {key} = \"{}\"", quote(bare)));
    }
    if expected == "a boolean" {
        return Some(format!("{key} is true or false, without quotation marks"));
    }
    None
}

/// A figure given in some unit, in the key's own; `None` for a unit that is not known for it.
fn converted(unit: &str, figure: f64, given: &str) -> Option<f64> {
    let scale = match (unit, given) {
        (MILLIMETRES, "mm" | "millimetres")
        | (PER_CENT, "%" | "percent" | "per cent")
        | (DEGREES, "°" | "deg" | "degrees") => 1.0,
        (MILLIMETRES, "cm") => 10.0,
        (MILLIMETRES, "dm") => 100.0,
        (MILLIMETRES, "m" | "metres") => 1000.0,
        (MILLIMETRES, "in" | "inch" | "inches" | "\"") => 25.4,
        (MILLIMETRES, "ft" | "feet" | "'") => 304.8,
        _ => return None,
    };
    // Without the last bits that the product can carry.
    Some((figure * scale * 1e6).round() / 1e6)
}

const MILLIMETRES: &str = "millimetres";
const PER_CENT: &str = "per cent";
const DEGREES: &str = "degrees";

/// The unit that a key's name carries.
fn unit_of(key: &str) -> Option<&'static str> {
    let units = [("_mm", MILLIMETRES), ("_percent", PER_CENT), ("_deg", DEGREES)];
    units
        .into_iter()
        .find(|(ending, _)| key.ends_with(ending))
        .map(|(_, unit)| unit)
}

/// What is left: a line that is no TOML, or a value that says itself what is wrong with it.
fn plainly(message: &str, line: &str) -> String {
    let first = shortened(message.lines().next().unwrap_or_default(), MOST_SAID);
    if first.starts_with("duplicate key") {
        return format!("\"{}\" stands there a second time; keep one", quote(line));
    }
    let value = line.split_once('=').map(|(_, value)| value.trim()).unwrap_or_default();
    let open = value.matches('"').count() % 2 == 1;
    if open {
        return format!("a quotation mark is missing in: {}", quote(line));
    }
    if line.is_empty() {
        first.into_owned()
    } else {
        format!("{first} in: {}", quote(line))
    }
}

#[cfg(test)]
mod tests {
    use crate::record::{Bay, Job, parse_toml};
    use std::path::Path;

    const JOB: &str = "schema = 1\njob = \"W-1\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n";

    fn said(more: &str) -> String {
        let error = parse_toml::<Job>(Path::new("job.toml"), &format!("{JOB}{more}")).unwrap_err();
        let said = error.to_string();
        assert!(
            said.starts_with("job.toml: ") && !said.contains("^") && !said.contains('\n'),
            "{said}"
        );
        said
    }

    #[test]
    fn slips_are_named_with_line_and_mend() {
        let lamp = "[[lamp]]\nside = \"left\"\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n";
        for (more, parts) in [
            (
                format!("{lamp}centre_height_mm = 650,5\n"),
                ["line 9", "with a point", "centre_height_mm = 650.5"],
            ),
            (
                format!("{lamp}centre_height_mm = \"720 mm\"\n"),
                ["line 9", "is in millimetres", "centre_height_mm = 720"],
            ),
            (
                format!("{lamp}centre_height_mm = \"65,2 cm\"\n"),
                ["line 9", "is in millimetres", "centre_height_mm = 652"],
            ),
            (
                format!("{lamp}centre_height_mm = \"0.72 m\"\n"),
                ["line 9", "is in millimetres", "centre_height_mm = 720"],
            ),
            (
                format!("{lamp}centre_hight_mm = 650.0\n"),
                ["line 9", "no key \"centre_hight_mm\"", "mean centre_height_mm?"],
            ),
            (lamp.to_owned(), ["line 5", "[[lamp]]", "add centre_height_mm = "]),
            (
                "[[shot]]\nphoto = \"photos\\left.jpg\"\nlamp = \"left\"\n".to_owned(),
                ["line 6", "backslash", "photo = \"photos/left.jpg\""],
            ),
            (
                "[[shot]]\nphoto = \"a.jpg\"\nlamp = \"left\"\nposition = 0\n".to_owned(),
                ["line 8", "quotation marks", "position = \"0\""],
            ),
            (
                "[[shot]]\nphoto = \"a.jpg\"\nlamp = \"lefft\"\n".to_owned(),
                ["line 7", "\"lefft\"", "mean left?"],
            ),
            (
                "[[shot]]\nphoto = \"a.jpg\nlamp = \"left\"\n".to_owned(),
                ["line 6", "quotation mark is missing", "photo = \"a.jpg"],
            ),
            (
                "[[shot]]\nphoto = \"a.jpg\"\nlamp = \"left\"\nvacuum = \"300\"\n".to_owned(),
                ["line 8", "unit is missing", "vacuum = \"300\""],
            ),
        ] {
            let said = said(&more);
            for part in parts {
                assert!(said.contains(part), "{part} is not in: {said}");
            }
        }
        // What is no length is given no figure.
        let odd = said(&format!("{lamp}centre_height_mm = \"72 kg\"\n"));
        assert!(odd.contains("without a unit") && !odd.contains("= 72"), "{odd}");
        let bay = parse_toml::<Bay>(Path::new("bay.toml"), "schema = 1\n")
            .unwrap_err()
            .to_string();
        assert!(bay.contains("name is missing; add name = …"), "{bay}");
    }

    #[test]
    fn what_is_quoted_of_a_file_is_short() {
        let long = "ä".repeat(100_000);
        for more in [
            format!("\"{long}\" = 1\n"),
            format!("{} = 1\n", "x".repeat(100_000)),
            format!("tolerance = 5 # {long}\n"),
            format!("tolerance = {}\n", "5".repeat(100_000)),
            format!("tolerance = \"{long}\n"),
            format!("tolerance = \"a\\{long}\"\n"),
            format!("pattern = \"{long}\"\n"),
            format!("[\"{long}\"]\n"),
            format!("[[lamp]] # {long}\nside = \"left\"\n"),
            format!("[[lamp]]\ndistance_mm = {},5\n", "5".repeat(100_000)),
            format!("[[lamp]]\ndistance_mm = \"{}\"\n", "5".repeat(100_000)),
            format!("[adjuster]\nvacuum_sd = \"{long} {long}\"\n"),
            format!("a{long} = 1\n"),
        ] {
            let said = said(&more);
            let head: String = more.chars().take(20).collect();
            assert!(
                said.chars().count() < 700,
                "{head}: {} characters",
                said.chars().count()
            );
        }
    }

    #[test]
    fn metres_and_a_photo_in_place_of_the_job_are_known() {
        let path = Path::new("job.toml");
        let lamp = "[[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 8.05\n";
        let job: Job = parse_toml(path, &format!("{JOB}{lamp}")).unwrap();
        let said = job.check(path).unwrap_err().to_string();
        assert!(
            said.contains("left lamp") && said.contains("looks like metres") && said.ends_with("distance_mm = 8050"),
            "{said}"
        );
        let folder = tempfile::tempdir().unwrap();
        let photo = folder.path().join("left.jpg");
        std::fs::write(&photo, [0xff, 0xd8, 0xff, 0xe0]).unwrap();
        let said = Job::read(&photo).unwrap_err().to_string();
        assert!(
            said.contains("left.jpg: is no text file, perhaps a photo; give the job's .toml"),
            "{said}"
        );
    }
}
