# What a browser makes of the sample practice's pages: make check-browser. Packages go to build/browser.
BROWSER_PACKAGES = puppeteer-core@23 axe-core@4 html-validate@9
BROWSER_DEMO     = $(BUILD)/browser/demo
BROWSER_PAGES   ?= $(addprefix $(BROWSER_DEMO)/,audit.html due.html trend/trend.html deck/deck.html)
.PHONY: check-browser
check-browser: $(PROGRAM)
	@DEPS=$(DEPS) sh .ci/deps browser
	@[ -d $(BUILD)/browser/node_modules/puppeteer-core ] || npm install --prefix $(BUILD)/browser --no-save \
		--no-package-lock --no-audit --no-fund --ignore-scripts $(BROWSER_PACKAGES)
	@rm -rf $(BROWSER_DEMO)
	@$(PROGRAM) demo --out $(BROWSER_DEMO)
	@$(PROGRAM) trend --store $(BROWSER_DEMO)/practice.db --operator B --out $(BROWSER_DEMO)/trend
	@$(PROGRAM) deck --store $(BROWSER_DEMO)/practice.db --out $(BROWSER_DEMO)/deck
	@for page in $(BROWSER_PAGES); do echo "$$page"; \
		node tests/browser/check.mjs $$page $(BUILD)/browser/out/$$(basename $$page .html) || exit 1; done
