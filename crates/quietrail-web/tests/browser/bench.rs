//! The browser, its driver, and workbooks to look at.

use quietrail_web::{Folder, Serving, start};
use serde_json::{Value, json};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use thirtyfour::error::WebDriverErrorInner;
use thirtyfour::prelude::*;

/// What a scenario comes to.
pub(crate) type Outcome = Result<(), Box<dyn std::error::Error>>;

/// The demo as it ships: something in it fails.
pub(crate) const BEACON: &str = include_str!("../../../quietrail-cli/demo/beacon/job.toml");

/// Slow machines take so long over what takes a moment.
const PATIENCE: Duration = Duration::from_secs(180);

/// A browser with its driver.
pub(crate) struct Bench {
    /// The session.
    pub(crate) driver: WebDriver,
    /// Where pictures go.
    pub(crate) kept: PathBuf,
    chromedriver: Child,
    _profile: tempfile::TempDir,
    books: Vec<Book>,
}

/// A workbook of its own.
pub(crate) struct Book {
    /// Its folder.
    pub(crate) folder: tempfile::TempDir,
    /// Its address, slash at the end.
    pub(crate) address: String,
    serving: Serving,
}

impl Book {
    /// A workbook of a job's text; of an empty folder without one.
    pub(crate) fn of(text: Option<&str>) -> Result<Self, Box<dyn std::error::Error>> {
        let folder = tempfile::tempdir()?;
        if let Some(text) = text {
            std::fs::write(folder.path().join("job.toml"), text)?;
        }
        let place = Folder::of(folder.path())?;
        // It has a runtime of its own, which cannot begin inside of another.
        let serving = std::thread::spawn(move || start(place, Some(0))).join();
        let serving = serving.map_err(|_| "the workbook did not start")??;
        Ok(Self {
            address: serving.address.clone(),
            folder,
            serving,
        })
    }
}

impl Book {
    fn close(self) {
        let Self { serving, .. } = self;
        // It has a runtime of its own, which must not end inside of another.
        let _ = std::thread::spawn(move || serving.stop()).join();
    }
}

/// Where a workbook is, and its job file.
#[derive(Clone, Debug)]
pub(crate) struct Place {
    /// Its address, slash at the end.
    pub(crate) address: String,
    /// Its job file.
    pub(crate) file: PathBuf,
}

impl Place {
    /// The job file as it is on disk.
    pub(crate) fn text(&self) -> String {
        std::fs::read_to_string(&self.file).unwrap_or_default()
    }

    /// Changes the job file as another program would.
    pub(crate) fn edit(&self, from: &str, to: &str) {
        let text = self.text();
        assert!(text.contains(from), "{from} is in the file");
        std::fs::write(&self.file, text.replacen(from, to, 1)).expect("written");
    }

    /// The address of a view.
    pub(crate) fn at(&self, view: &str) -> String {
        format!("{}{view}", self.address)
    }
}

fn program(variable: &str, names: &[&str]) -> Result<PathBuf, String> {
    if let Some(path) = std::env::var_os(variable) {
        return Ok(path.into());
    }
    let paths = std::env::var_os("PATH").unwrap_or_default();
    let mut all = names
        .iter()
        .flat_map(|name| std::env::split_paths(&paths).map(move |folder| folder.join(name)));
    all.find(|path| path.is_file()).ok_or_else(|| {
        format!(
            "{} is missing (apt-get install chromium chromium-driver)",
            names[0]
        )
    })
}

impl Bench {
    /// Starts the driver and a browser.
    pub(crate) async fn open() -> Result<Self, String> {
        let chromium = program(
            "QUIETRAIL_CHROMIUM",
            &["chromium", "chromium-browser", "google-chrome"],
        )?;
        let chromedriver = program("QUIETRAIL_CHROMEDRIVER", &["chromedriver"])?;
        let free = TcpListener::bind("127.0.0.1:0").and_then(|one| one.local_addr());
        let port = free.map_err(|error| error.to_string())?.port();
        let mut child = Command::new(chromedriver)
            .arg(format!("--port={port}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|error| error.to_string())?;
        let profile = tempfile::tempdir().map_err(|error| error.to_string())?;
        let driver = match session(port, &chromium, profile.path()).await {
            Ok(driver) => driver,
            Err(error) => {
                let _ = child.kill();
                return Err(error.to_string());
            }
        };
        let kept = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("workbook");
        std::fs::create_dir_all(&kept).map_err(|error| error.to_string())?;
        Ok(Self {
            driver,
            kept,
            chromedriver: child,
            _profile: profile,
            books: Vec::new(),
        })
    }

    /// Back to what a scenario starts from.
    pub(crate) async fn afresh(&mut self) -> Outcome {
        let windows = self.driver.windows().await?;
        for extra in windows.iter().skip(1) {
            self.driver.switch_to_window(extra.clone()).await?;
            self.driver.close_window().await?;
        }
        self.driver.switch_to_window(windows[0].clone()).await?;
        self.cdp(
            "Emulation.setScriptExecutionDisabled",
            json!({ "value": false }),
        )
        .await?;
        self.colours("light").await?;
        self.size(1440, 1000).await?;
        self.driver.goto("about:blank").await?;
        self.close_books(1);
        Ok(())
    }

    /// Ends workbooks and what they search for, but for the first few.
    pub(crate) fn close_books(&mut self, but: usize) {
        for book in self.books.drain(but.min(self.books.len())..) {
            book.close();
        }
    }

    /// A workbook that is closed with the bench: its address and its job file.
    pub(crate) fn book(&mut self, text: Option<&str>) -> Result<Place, Box<dyn std::error::Error>> {
        if self.books.is_empty() {
            self.books.push(Book::of(Some(BEACON))?);
        }
        let book = Book::of(text)?;
        let place = Place {
            address: book.address.clone(),
            file: book.folder.path().join("job.toml"),
        };
        self.books.push(book);
        Ok(place)
    }

    /// The demo's workbook, shared by those who only look.
    pub(crate) fn demo(&mut self) -> Result<String, Box<dyn std::error::Error>> {
        if self.books.is_empty() {
            self.books.push(Book::of(Some(BEACON))?);
        }
        Ok(self.books[0].address.clone())
    }

    /// A command of the browser's own protocol.
    pub(crate) async fn cdp(&self, command: &str, with: Value) -> Result<Value, WebDriverError> {
        self.driver.cdp().send_raw(command, with).await
    }

    /// The person's choice of colours.
    pub(crate) async fn colours(&self, scheme: &str) -> Outcome {
        let features = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
        self.cdp("Emulation.setEmulatedMedia", features).await?;
        Ok(())
    }

    /// The window's inside, in CSS pixels.
    pub(crate) async fn size(&self, width: u32, height: u32) -> Outcome {
        let metrics =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.cdp("Emulation.setDeviceMetricsOverride", metrics)
            .await?;
        Ok(())
    }

    /// What a script gives.
    pub(crate) async fn ask(&self, script: &str) -> Result<Value, WebDriverError> {
        Ok(self
            .driver
            .execute(script, Vec::new())
            .await?
            .json()
            .clone())
    }

    /// What an expression gives, as text.
    pub(crate) async fn text(&self, expression: &str) -> Result<String, WebDriverError> {
        let value = self.ask(&format!("return String({expression})")).await?;
        Ok(value.as_str().unwrap_or_default().to_owned())
    }

    /// Clicks the first element that a selector finds. Regions may be swapped between finding and clicking, so both
    /// happen at once.
    pub(crate) async fn click(&self, selector: &str) -> Outcome {
        let quoted = serde_json::to_string(selector).expect("text");
        let found = self
            .ask(&format!(
                "const e=document.querySelector({quoted});if(e)e.click();return !!e"
            ))
            .await?;
        check(found == Value::Bool(true), || {
            format!("there is no {selector}")
        })
    }

    /// Types into the first element that a selector finds, as a hand does; what stands there stays before it.
    pub(crate) async fn type_into(&self, selector: &str, text: &str) -> Outcome {
        self.by_hand(selector, async |element| element.send_keys(text).await)
            .await
    }

    /// Types into the first element that a selector finds, over what stands there.
    pub(crate) async fn type_over(&self, selector: &str, text: &str) -> Outcome {
        let over = async |element: WebElement| {
            element.clear().await?;
            element.send_keys(text).await
        };
        self.by_hand(selector, over).await
    }

    /// Clicks the first element that a selector finds as a mouse does, which needs no script.
    pub(crate) async fn press(&self, selector: &str) -> Outcome {
        self.by_hand(selector, async |element| element.click().await)
            .await
    }

    /// Does something to the first element that a selector finds. A region that is swapped between finding and doing
    /// takes the element with it before anything is done: it is looked for again, as a hand would.
    async fn by_hand(
        &self,
        selector: &str,
        act: impl AsyncFn(WebElement) -> WebDriverResult<()>,
    ) -> Outcome {
        let begun = Instant::now();
        loop {
            let element = self.driver.find(By::Css(selector)).await?;
            match act(element).await {
                Err(gone) if is_stale(&gone) && begun.elapsed() < PATIENCE => {}
                outcome => return Ok(outcome?),
            }
        }
    }

    /// The text of the first element that a selector finds.
    pub(crate) async fn text_of(&self, selector: &str) -> Result<String, WebDriverError> {
        let quoted = serde_json::to_string(selector).expect("text");
        self.text(&format!(
            "(document.querySelector({quoted})||{{textContent:''}}).textContent"
        ))
        .await
    }

    /// Opens a page, and waits until an expression on it is true.
    pub(crate) async fn go(&self, url: impl AsRef<str>, what: &str, expression: &str) -> Outcome {
        self.driver.goto(url.as_ref()).await?;
        self.until(what, expression).await
    }

    /// Waits until an expression is true.
    pub(crate) async fn until(&self, what: &str, expression: &str) -> Outcome {
        let begun = Instant::now();
        loop {
            let said = self.ask(&format!("return !!({expression})")).await;
            if matches!(said, Ok(Value::Bool(true))) {
                return Ok(());
            }
            if begun.elapsed() > PATIENCE {
                return Err(format!("waited in vain for: {what}").into());
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Waits for a page, told by its address and source; asks no script.
    pub(crate) async fn until_page(&self, what: &str, is: impl Fn(&str, &str) -> bool) -> Outcome {
        let begun = Instant::now();
        loop {
            let (url, source) = (
                self.driver.current_url().await?,
                self.driver.source().await?,
            );
            if is(url.as_str(), &source) {
                return Ok(());
            }
            if begun.elapsed() > PATIENCE {
                return Err(format!("waited in vain for: {what}, at {url}").into());
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Waits until something stands in a file, given as it reads.
    pub(crate) async fn until_written(
        &self,
        what: &str,
        read: impl Fn() -> String,
        wanted: &str,
    ) -> Outcome {
        let begun = Instant::now();
        while !read().contains(wanted) {
            if begun.elapsed() > PATIENCE {
                return Err(format!("waited in vain for: {what}, in {}", read()).into());
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        Ok(())
    }

    /// Waits for the whole search: nothing on the page is provisional.
    pub(crate) async fn settled(&self) -> Outcome {
        self.until("the search to end", "document.getElementById('working').hidden && !document.querySelector('.lead em') && (document.querySelector('.shout') || !document.getElementById('lead'))").await
    }

    /// Keeps a picture of the page.
    pub(crate) async fn keep(&self, name: &str) -> Outcome {
        self.driver
            .screenshot(&self.kept.join(format!("{name}.png")))
            .await?;
        Ok(())
    }

    /// Ends browser, driver and workbooks.
    pub(crate) async fn close(mut self) {
        let _ = self.driver.clone().quit().await;
        let _ = self.chromedriver.kill();
        let _ = self.chromedriver.wait();
        self.close_books(0);
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = self.chromedriver.kill();
    }
}

async fn session(port: u16, chromium: &Path, profile: &Path) -> WebDriverResult<WebDriver> {
    let mut caps = DesiredCapabilities::chrome();
    caps.set_binary(&chromium.display().to_string())?;
    for argument in [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--hide-scrollbars",
        "--window-size=1440,1000",
    ] {
        caps.add_arg(argument)?;
    }
    caps.add_arg(&format!("--user-data-dir={}", profile.display()))?;
    let begun = Instant::now();
    loop {
        match WebDriver::new(&format!("http://127.0.0.1:{port}"), caps.clone()).await {
            Ok(driver) => return Ok(driver),
            Err(error) if begun.elapsed() > Duration::from_secs(60) => return Err(error),
            Err(_) => tokio::time::sleep(Duration::from_millis(200)).await,
        }
    }
}

fn is_stale(error: &WebDriverError) -> bool {
    matches!(**error, WebDriverErrorInner::StaleElementReference(..))
}

/// Fails a scenario with a sentence.
pub(crate) fn check(is_so: bool, otherwise: impl FnOnce() -> String) -> Outcome {
    if is_so {
        Ok(())
    } else {
        Err(otherwise().into())
    }
}
