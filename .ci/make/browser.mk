# What a browser makes of the sample practice's pages: make check-browser. Packages go to build/browser.
BROWSER_PACKAGES = puppeteer-core@23 axe-core@4 html-validate@9
BROWSER_DEMO     = $(BUILD)/browser/demo
BROWSER_PAGES   ?= $(addprefix $(BROWSER_DEMO)/,audit.html due.html trend/trend.html deck/deck.html)
# A practice of six operators, whose audit is only printed: each operator of the generator becomes two, by the patient's last digit.
BROWSER_SIX      = $(BUILD)/browser/six
SIX_OPERATORS    = awk -F, -v OFS=, 'NR > 1 && substr($$1, length($$1)) % 2 == 0 { $$5 = $$5 "2" } 1'
.PHONY: check-browser
check-browser: $(PROGRAM) $(B)/generate-practice
	@DEPS=$(DEPS) sh .ci/deps browser
	@[ -d $(BUILD)/browser/node_modules/puppeteer-core ] || npm install --prefix $(BUILD)/browser --no-save \
		--no-package-lock --no-audit --no-fund --ignore-scripts $(BROWSER_PACKAGES)
	@rm -rf $(BROWSER_DEMO)
	@$(PROGRAM) demo --out $(BROWSER_DEMO)
	@$(PROGRAM) trend --store $(BROWSER_DEMO)/practice.db --operator B --out $(BROWSER_DEMO)/trend
	@$(PROGRAM) deck --store $(BROWSER_DEMO)/practice.db --out $(BROWSER_DEMO)/deck
	@rm -rf $(BROWSER_SIX) && mkdir -p $(BROWSER_SIX)
	@$(B)/generate-practice --clean --seed 7 --implants 600 --out $(BROWSER_SIX)
	@cd $(BROWSER_SIX) && $(SIX_OPERATORS) implants.csv >six.csv && mv six.csv implants.csv
	@$(PROGRAM) new --store $(BROWSER_SIX)/practice.db >$(BROWSER_SIX)/said
	@$(PROGRAM) load --store $(BROWSER_SIX)/practice.db $(addprefix $(BROWSER_SIX)/,implants.csv followups.csv events.csv) >>$(BROWSER_SIX)/said
	@$(PROGRAM) audit --store $(BROWSER_SIX)/practice.db --out $(BROWSER_SIX)
	@echo "$(BROWSER_SIX)/audit.html, six operators, in print"; \
		node tests/browser/check.mjs $(BROWSER_SIX)/audit.html $(BUILD)/browser/out/six print
	@for page in $(BROWSER_PAGES); do echo "$$page"; \
		node tests/browser/check.mjs $$page $(BUILD)/browser/out/$$(basename $$page .html) || exit 1; done
