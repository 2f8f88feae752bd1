//! With the feature `parquet`: what is written as Parquet is what stands in the CSV beside it, value for value.
#![cfg(feature = "parquet")]

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::Command;

struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("risertrim-parquet-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn run(&self, words: &str) {
        let output = Command::new(env!("CARGO_BIN_EXE_risertrim"))
            .current_dir(&self.0)
            .args(words.split_whitespace())
            .output()
            .unwrap();
        assert!(
            output.status.success(),
            "{words}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Compares a Parquet file with a CSV; returns how many rows there are.
fn compare(parquet: &Path, csv: &Path) -> usize {
    let reader = SerializedFileReader::new(File::open(parquet).unwrap()).unwrap();
    let mut table = csv::Reader::from_path(csv).unwrap();
    let names: Vec<String> = table.headers().unwrap().iter().map(str::to_owned).collect();
    let columns = reader.metadata().file_metadata().schema_descr();
    let stored: Vec<String> = columns
        .columns()
        .iter()
        .map(|column| column.name().to_owned())
        .collect();
    assert_eq!(stored, names, "{}", parquet.display());
    let mut rows = reader.get_row_iter(None).unwrap();
    let mut count = 0;
    for record in table.records() {
        let (record, row) = (record.unwrap(), rows.next().expect("a row fewer").unwrap());
        count += 1;
        for ((name, field), text) in row.get_column_iter().zip(&record) {
            assert!(
                same(field, text),
                "{} row {count}, {name}: {field:?}, {text:?}",
                parquet.display()
            );
        }
    }
    assert!(rows.next().is_none(), "{} has more rows", parquet.display());
    count
}

fn same(field: &Field, text: &str) -> bool {
    match field {
        Field::Null => text.is_empty() || text == "NaN",
        Field::Str(words) => words == text,
        Field::Long(number) => text.parse() == Ok(*number),
        Field::Float(number) => text.parse() == Ok(*number),
        Field::Double(number) => text
            .parse::<f64>()
            .is_ok_and(|told| (told - number).abs() < 1e-9 * told.abs().max(1.0)),
        _ => false,
    }
}

#[test]
fn a_log_as_parquet_is_the_log_as_csv() {
    let folder = Folder::new("log");
    folder.run("simulate default --hours 2 --log day.rtlog");
    folder.run("decode day.rtlog --csv csv --parquet parquet");
    let mut rows = 0;
    for entry in std::fs::read_dir(folder.0.join("csv")).unwrap() {
        let csv = entry.unwrap().path();
        let parquet = folder
            .0
            .join("parquet")
            .join(csv.file_stem().unwrap())
            .with_extension("parquet");
        rows += compare(&parquet, &csv);
    }
    // Four tanks' readings every ten seconds alone make 2880 rows.
    assert!(rows > 2_000, "{rows}");
}

#[test]
fn a_sweep_as_parquet_is_the_sweep_as_csv() {
    let folder = Folder::new("sweep");
    folder.run("sweep one_lift --hours 1 --seeds 4 --quiet --out sweep.csv --parquet sweep.parquet");
    assert_eq!(compare(&folder.0.join("sweep.parquet"), &folder.0.join("sweep.csv")), 4);
}
