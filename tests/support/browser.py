"""A headless Chromium by the WebDriver protocol (W3C), for tests that use a page as a person does."""
import json
import re
import subprocess
import sys
import time
import urllib.error
import urllib.request


def comes_true(condition, seconds=20):
    """Waits for what the page does in its own time; a page that hangs is given up."""
    latest = time.monotonic() + seconds
    while not condition() and time.monotonic() < latest:
        time.sleep(0.05)
    return condition()


class Checks:
    """Says at the end what was wrong, and ends with 1 where anything was."""

    def __init__(self):
        self.faults = []

    def __call__(self, what, is_right):
        if not is_right:
            self.faults.append(what)

    def end(self):
        for fault in self.faults:
            print('wrong:', fault)
        sys.exit(1 if self.faults else 0)


class Browser:
    def __init__(self, profile, width=1280, height=900):
        # The driver chooses a free port and prints it.
        self.driver = subprocess.Popen(['chromedriver', '--port=0'], stdout=subprocess.PIPE,
                                       stderr=subprocess.DEVNULL, text=True)
        self.session = None
        self.port = None
        while self.port is None:
            line = self.driver.stdout.readline()
            if not line:
                sys.exit('chromedriver did not start')
            found = re.search(r'started successfully on port (\d+)', line)
            self.port = found and found.group(1)
        arguments = ['--headless=new', '--no-sandbox', '--disable-gpu',
                     f'--window-size={width},{height}', '--disable-dev-shm-usage',
                     f'--user-data-dir={profile}']
        self.session = '/session/' + self.call('POST', '/session', {'capabilities': {'alwaysMatch': {
            'goog:chromeOptions': {'args': arguments, 'binary': '/usr/bin/chromium'},
            'goog:loggingPrefs': {'browser': 'ALL'}}}})['sessionId']

    def call(self, method, path, body=None):
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f'http://127.0.0.1:{self.port}{path}', data=data,
                                         method=method, headers={'Content-Type': 'application/json'})
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:
                return json.load(answer)['value']
        except urllib.error.HTTPError as error:
            raise SystemExit(f'{path}: {error.read().decode()[:400]}')

    def post(self, path, body):
        return self.call('POST', self.session + path, body)

    def get(self, path):
        return self.call('GET', self.session + path)

    def open(self, address):
        self.post('/url', {'url': address})

    def script(self, text, *arguments):
        return self.post('/execute/sync', {'script': text, 'args': list(arguments)})

    def find(self, selector):
        value = self.post('/element', {'using': 'css selector', 'value': selector})
        return '/element/' + next(iter(value.values()))

    def click(self, selector):
        self.post(self.find(selector) + '/click', {})

    def keys(self, selector, text):
        self.post(self.find(selector) + '/value', {'text': text})

    def errors(self):
        return [e['message'] for e in self.post('/se/log', {'type': 'browser'})
                if e['level'] == 'SEVERE']

    def close(self):
        if self.session:
            self.call('DELETE', self.session)
        self.driver.terminate()
        self.driver.wait()
