//! Where the text of a table comes from: a folder, or the binary itself.

use std::path::Path;

use super::{fault::Fault, fault::Faults, layout};

/// The text of one table.
#[derive(Debug, Clone)]
pub struct Source {
    /// File name, such as `flights.csv`.
    pub file: String,
    /// Its text.
    pub text: String,
}

impl Source {
    /// Tables that were compiled in.
    #[must_use]
    pub fn compiled_in(tables: &[(&str, &str)]) -> Vec<Self> {
        tables
            .iter()
            .map(|(file, text)| Self { file: (*file).to_owned(), text: (*text).to_owned() })
            .collect()
    }

    /// All tables of a folder. Other files than `.csv` are left alone.
    ///
    /// # Errors
    /// A folder or file that cannot be read, text that is no UTF-8, a `.csv` file of no known table.
    pub fn of_folder(folder: &Path) -> Result<Vec<Self>, Faults> {
        let shown = folder.display().to_string();
        let entries =
            std::fs::read_dir(folder).map_err(|error| Faults::of_file(&shown, &error.to_string()))?;
        let mut sources = Vec::new();
        let mut faults = Faults::default();
        for entry in entries {
            let path = match entry {
                Ok(entry) => entry.path(),
                Err(error) => {
                    faults.push(Fault::of_file(&shown, error.to_string()));
                    continue;
                }
            };
            if path.extension().is_none_or(|extension| extension != "csv") {
                continue;
            }
            let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            if layout::table(&file).is_none() {
                let known: Vec<&str> = layout::tables().map(|table| table.file).collect();
                faults.push(Fault::of_file(&file, format!("no such table; there are {}", known.join(", "))));
                continue;
            }
            match std::fs::read(&path).map_err(|error| error.to_string()) {
                Ok(bytes) => match String::from_utf8(bytes) {
                    Ok(text) => sources.push(Self { file, text }),
                    Err(error) => {
                        let good = error.utf8_error().valid_up_to();
                        let breaks =
                            error.as_bytes().iter().take(good).filter(|byte| **byte == b'\n').count();
                        let line = u64::try_from(breaks).unwrap_or(u64::MAX).saturating_add(1);
                        faults.push(Fault::of_row(
                            &file,
                            line,
                            "holds a byte that is no UTF-8: save the file as UTF-8",
                        ));
                    }
                },
                Err(error) => faults.push(Fault::of_file(&file, error)),
            }
        }
        sources.sort_by(|a, b| a.file.cmp(&b.file));
        if faults.is_empty() { Ok(sources) } else { Err(faults.sorted()) }
    }
}
