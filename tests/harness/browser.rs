//! A real browser without a window, driven over the W3C WebDriver protocol: opens, clicks, fills in, goes away when told.
//!
//! The driver and its browser end with the [`Browser`]. Waiting is asking again until a deadline.

use std::io::{BufRead as _, BufReader, Lines};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

use reqwest::blocking::Client;
use serde_json::{Value, json};

/// How long something may take to happen on a page.
const PATIENCE: Duration = Duration::from_secs(20);
/// How long to wait before asking again.
const PAUSE: Duration = Duration::from_millis(15);

/// What the browser is told so that it does nothing of its own accord.
const FLAGS: &[&str] = &[
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--window-size=390,844",
];

/// A browser with a folder for what it keeps.
pub struct Browser {
    driver: Child,
    /// Where the driver speaks; it stops when nobody listens.
    _said: Lines<BufReader<ChildStdout>>,
    client: Client,
    session: String,
    pid: u64,
}

impl Browser {
    /// Starts one. What is kept in the folder is there again when the next one starts on it.
    pub fn start(profile: &Path) -> Self {
        Self::start_with(profile, &[])
    }

    /// The same with a film before its camera (YUV4MPEG2), which may be used without being asked.
    pub fn start_before(profile: &Path, film: &Path) -> Self {
        let film = format!("--use-file-for-fake-video-capture={}", film.display());
        Self::start_with(
            profile,
            &["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream", &film],
        )
    }

    fn start_with(profile: &Path, more: &[&str]) -> Self {
        let mut driver = Command::new("chromedriver")
            .arg("--port=0")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver is installed (Debian: chromium-driver)");
        let mut said = BufReader::new(driver.stdout.take().unwrap()).lines();
        let port = said
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| {
                line.split_once("started successfully on port ")?.1.trim_end_matches('.').parse::<u16>().ok()
            })
            .expect("the driver says where it listens");
        let client = Client::builder().no_proxy().timeout(Duration::from_secs(60)).build().unwrap();
        let mut flags: Vec<String> = FLAGS.iter().chain(more).map(|flag| (*flag).to_owned()).collect();
        flags.push(format!("--user-data-dir={}", profile.display()));
        let wanted = json!({ "capabilities": { "alwaysMatch": {
            "goog:chromeOptions": { "args": flags },
            "goog:loggingPrefs": { "browser": "ALL", "performance": "ALL" },
        } } });
        let base = format!("http://127.0.0.1:{port}");
        let made = command(&client, "POST", &format!("{base}/session"), &wanted);
        let made = match made {
            Ok(made) => made,
            Err(why) => {
                let _ = driver.kill();
                let _ = driver.wait();
                panic!("the browser does not start: {why}");
            }
        };
        let session = format!("{base}/session/{}", made["sessionId"].as_str().unwrap());
        let pid = made["capabilities"]["goog:processID"].as_u64().unwrap();
        Self { driver, _said: said, client, session, pid }
    }

    fn ask(&self, method: &str, path: &str, body: &Value) -> Result<Value, String> {
        command(&self.client, method, &format!("{}{path}", self.session), body)
    }

    /// Opens a page; an error where none comes.
    pub fn try_open(&self, url: &str) -> Result<(), String> {
        self.ask("POST", "/url", &json!({ "url": url })).map(|_opened| ())
    }

    /// Opens a page, which must come.
    #[track_caller]
    pub fn open(&self, url: &str) {
        self.try_open(url).unwrap();
    }

    /// Where it is.
    pub fn url(&self) -> String {
        self.ask("GET", "/url", &Value::Null).unwrap().as_str().unwrap().to_owned()
    }

    fn try_run(&self, script: &str) -> Result<Value, String> {
        self.ask("POST", "/execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// Runs the body of a function on the page and gives what it returns.
    #[track_caller]
    pub fn run(&self, script: &str) -> Value {
        self.try_run(script).unwrap_or_else(|why| panic!("{script}: {why}"))
    }

    /// The same for one that says by its last argument when it is done.
    #[track_caller]
    pub fn run_async(&self, script: &str) -> Value {
        let done = self.ask("POST", "/execute/async", &json!({ "script": script, "args": [] }));
        done.unwrap_or_else(|why| panic!("{script}: {why}"))
    }

    /// Presses the key that goes from one thing to the next.
    #[track_caller]
    pub fn press_tab(&self) {
        for kind in ["keyDown", "keyUp"] {
            let event = json!({ "type": kind, "key": "Tab", "code": "Tab", "windowsVirtualKeyCode": 9 });
            self.tell("Input.dispatchKeyEvent", &event);
        }
    }

    /// The text of the first element that fits, empty if there is none or it is not shown.
    #[track_caller]
    pub fn text(&self, css: &str) -> String {
        let script = format!("return document.querySelector({})?.innerText ?? ''", json!(css));
        self.run(&script).as_str().unwrap_or_default().to_owned()
    }

    /// Asks again until an expression is true, and gives its value.
    #[track_caller]
    pub fn until(&self, expression: &str) -> Value {
        let deadline = Instant::now() + PATIENCE;
        let script = format!("return {expression}");
        let mut last = Ok(Value::Null);
        while Instant::now() < deadline {
            // Between two pages there is nothing to ask.
            last = self.try_run(&script);
            if let Ok(value) = &last
                && !matches!(value, Value::Null | Value::Bool(false))
                && value != ""
                && value != 0
            {
                return value.clone();
            }
            std::thread::park_timeout(PAUSE);
        }
        let text = self.try_run("return location.href + '\\n' + document.body.innerText");
        panic!("never came true: {expression}\nlast: {last:?}\non the page: {}", text.unwrap_or_default());
    }

    fn element(&self, css: &str) -> Result<String, String> {
        let found = self.ask("POST", "/element", &json!({ "using": "css selector", "value": css }))?;
        let id = found.as_object().and_then(|found| found.values().next()).and_then(Value::as_str);
        Ok(format!("/element/{}", id.unwrap()))
    }

    #[track_caller]
    fn act(&self, css: &str, deed: &str, body: &Value) {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let done = self.element(css).and_then(|found| self.ask("POST", &format!("{found}/{deed}"), body));
            match done {
                Ok(_) => return,
                Err(why) if Instant::now() >= deadline => panic!("{deed} {css}: {why}"),
                Err(_not_there_yet) => std::thread::park_timeout(PAUSE),
            }
        }
    }

    /// Clicks the first element that fits, as a person would: it must be there and not be covered.
    #[track_caller]
    pub fn click(&self, css: &str) {
        self.act(css, "click", &json!({}));
    }

    /// Types into a field that holds nothing yet.
    #[track_caller]
    pub fn fill(&self, css: &str, text: &str) {
        self.act(css, "value", &json!({ "text": text }));
    }

    /// Gives a command of the browser's own protocol.
    #[track_caller]
    pub fn tell(&self, name: &str, params: &Value) -> Value {
        self.ask("POST", "/goog/cdp/execute", &json!({ "cmd": name, "params": params })).unwrap()
    }

    /// What the browser complained of since it was asked last: errors of scripts, of its policy, of loading.
    pub fn complaints(&self) -> Vec<String> {
        let log = self.ask("POST", "/se/log", &json!({ "type": "browser" })).unwrap();
        let severe = log.as_array().unwrap().iter().filter(|entry| entry["level"] == "SEVERE");
        severe.map(|entry| entry["message"].to_string()).collect()
    }

    /// What pages asked for since it was asked last, as addresses.
    pub fn requests(&self) -> Vec<String> {
        let log = self.ask("POST", "/se/log", &json!({ "type": "performance" })).unwrap();
        let told = log.as_array().unwrap().iter().filter_map(|entry| {
            let said: Value = serde_json::from_str(entry["message"].as_str()?).ok()?;
            let is_request = said["message"]["method"] == "Network.requestWillBeSent";
            let url = said["message"]["params"]["request"]["url"].as_str()?.to_owned();
            is_request.then_some(url)
        });
        told.collect()
    }

    /// Kills the browser without a word, as a phone does when its battery is empty.
    pub fn kill(self) {
        let killed = Command::new("kill").args(["-9", &self.pid.to_string()]).status().unwrap();
        assert!(killed.success(), "the browser is gone already");
        // Its folder is free for the next one when it is gone.
        let gone = Path::new("/proc").join(self.pid.to_string());
        let deadline = Instant::now() + PATIENCE;
        while gone.join("exe").exists() && Instant::now() < deadline {
            std::thread::park_timeout(PAUSE);
        }
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.ask("DELETE", "", &Value::Null);
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

fn command(client: &Client, method: &str, url: &str, body: &Value) -> Result<Value, String> {
    let request = client.request(method.parse().unwrap(), url);
    let request = if body.is_null() { request } else { request.json(body) };
    let reply = request.send().map_err(|error| error.to_string())?;
    let is_right = reply.status().is_success();
    let mut said: Value = reply.json().map_err(|error| error.to_string())?;
    let value = said["value"].take();
    if is_right { Ok(value) } else { Err(format!("{}: {}", value["error"], value["message"])) }
}
