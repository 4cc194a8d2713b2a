//! The same survey by the Linux and the Windows command, each into its own folder. The suite `compare_reports` compares
//! the reports.

use super::cross::{Cross, windows_path};
use crate::bundle::{BOTH, COMMAND, remove};
use crate::error::Error;
use crate::paths::{self, json_string};
use crate::step;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The folder of the reports. Its name has a space and non-ASCII letters, as some users' folders have on Windows.
const FOLDER: &str = "reports Glöckner 鐘楼";

/// Makes the scene and both reports, and returns their folder.
pub(crate) fn make(cross: &Cross) -> Result<PathBuf, Error> {
    let folder = cross.work(FOLDER);
    remove(&folder)?;
    fs::create_dir_all(&folder).map_err(|e| Error::path("make the folder", &folder, &e))?;
    step::run(paths::cargo().args(["build", "--release"]).args(BOTH))?;
    let native = paths::target()?.join("release").join(COMMAND);
    let scene = folder.join("scene");
    step::run(Command::new(&native).arg("scene").arg(&scene))?;
    let truth = scene.join("truth.json");
    let text = fs::read_to_string(&truth).map_err(|e| Error::path("read", &truth, &e))?;
    let stems = stems(&text);
    if stems.len() < 2 {
        return Err(Error::Failed(format!(
            "{} lists {} stems, but at least 2 are needed; did its format change?",
            truth.display(),
            stems.len()
        )));
    }
    let survey = |mut command: Command, out: &str, named: fn(&Path) -> OsString| {
        let files = scene.join("stems");
        command.args(["survey", "--quiet", "--tenths", "--cue", "--out"]).arg(named(&folder.join(out)));
        command.arg("--mix").arg(named(&files.join("mix.wav")));
        for stem in &stems {
            let mut layer = OsString::from(format!("{}={}:", stem.name, stem.role));
            layer.push(named(&files.join(&stem.file)));
            command.arg("--layer").arg(layer).arg("--gain").arg(format!("{}={}", stem.name, stem.gain_db));
        }
        step::run(command.stdin(Stdio::null()))
    };
    survey(Command::new(&native), "linux", |path| path.as_os_str().to_owned())?;
    survey(cross.wine(&cross.output.join(format!("{COMMAND}.exe"))), "windows", windows_path)?;
    Ok(folder)
}

/// A stem of the scene, each field as written in truth.json.
#[derive(Debug, Default, PartialEq, Eq)]
struct Stem {
    file: String,
    name: String,
    role: String,
    gain_db: String,
}

/// The stems in truth.json, which has one field per line.
fn stems(truth: &str) -> Vec<Stem> {
    let list = truth.split_once("\"stems\": [").map_or("", |(_, rest)| rest);
    let list = list.split_once("\n  ]").map_or("", |(list, _)| list);
    list.split('}')
        .filter_map(|object| {
            let flat = object.replace("\": ", "\":");
            let text = |key: &str| json_string(&flat, key);
            let gain = flat.split_once("\"gain_db\":")?.1.split([',', '\n']).next()?.trim();
            Some(Stem {
                file: text("file")?,
                name: text("name")?,
                role: text("role")?,
                gain_db: gain.to_owned(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stems_are_read_out_of_the_scenes_own_file() {
        let text = "{\n  \"mix\": \"mix.wav\",\n  \"stems\": [\n    {\n      \"file\": \"boom.wav\",\n      \
            \"name\": \"boom on the mason\",\n      \"role\": \"Natural\",\n      \"gain_db\": -4.5,\n      \
            \"share\": 3\n    },\n    {\n      \"file\": \"b.wav\"\n    }\n  ],\n  \"joins\": [\n  ]\n}\n";
        let boom = Stem {
            file: "boom.wav".into(),
            name: "boom on the mason".into(),
            role: "Natural".into(),
            gain_db: "-4.5".into(),
        };
        assert_eq!(stems(text), [boom]);
        assert_eq!(stems("{}"), []);
    }
}
