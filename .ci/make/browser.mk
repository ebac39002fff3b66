# What a browser makes of the sample practice's page: make check-browser. Packages go to build/browser.
BROWSER_PACKAGES = puppeteer-core@23 axe-core@4 html-validate@9
BROWSER_PAGES   ?= $(BUILD)/demo/audit.html
.PHONY: check-browser
check-browser: $(PROGRAM)
	@DEPS=$(DEPS) sh .ci/deps browser
	@[ -d $(BUILD)/browser/node_modules/puppeteer-core ] || npm install --prefix $(BUILD)/browser --no-save \
		--no-package-lock --no-audit --no-fund --ignore-scripts $(BROWSER_PACKAGES)
	@[ -e $(BUILD)/demo/audit.html ] || $(PROGRAM) demo --out $(BUILD)/demo
	@for page in $(BROWSER_PAGES); do node tests/browser/check.mjs $$page $(BUILD)/browser/out || exit 1; done
