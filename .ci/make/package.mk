# What is handed on: a Debian package, a release tarball, the source as a tarball (in build/package/out); the proof that each can
# be built again byte for byte, and that they and the README's commands work on a computer that has nothing else.
.PHONY: deb release check-reproducible check-fresh
PACKAGE     := $(BUILD)/package
PACKAGE_OUT := $(PACKAGE)/out

# Packages are built in a folder of their own: these programs meet other people's files, so every guard the compiler has is on.
PACKAGE_MAKE := $(MAKE) --no-print-directory DEPS=no BUILD=$(PACKAGE) SANITIZE=no \
                CFLAGS="-O2 -g -fstack-protector-strong -fstack-clash-protection" CPPFLAGS="-D_FORTIFY_SOURCE=2" \
                LDFLAGS="-Wl,-z,relro -Wl,-z,now"

# The program of the tarball holds every library of which Debian has an archive. libzip comes only as a shared object, so that
# it travels beside (with what it needs), and libc cannot be linked in as well: a static libc does not load shared objects.
STATIC_LIBRARIES := -Wl,-Bstatic -lsqlite3 -lgsl -lgslcblas -lcsv -lexpat -lglpk -lamd -lcolamd -lsuitesparseconfig -lgmp \
                    -lltdl -Wl,-Bdynamic -lzip -lz -lpthread -lm
$(B)/release/ridgetally: $(B)/obj/src/main.o $(ARCHIVES) .ci/make/package.mk
	@mkdir -p $(@D)
	$(call Q,LD $@)$(CC) $(OUR_LDFLAGS) -Wl,--trace -Wl,--disable-new-dtags,-rpath,'$$ORIGIN/../lib/ridgetally' $(filter %.o %.a,$^) \
		$(STATIC_LIBRARIES) -o $@ > $(@D)/inputs

# One make builds the programs of both: two at once in one folder would take each other's half-written archives.
.PHONY: package-programs
package-programs:
	@DEPS=$(DEPS) sh .ci/deps build
	@DEPS=$(DEPS) sh .ci/deps package
	+@$(PACKAGE_MAKE) $(PACKAGE)/plain/ridgetally $(PACKAGE)/plain/release/ridgetally

deb: package-programs
	+@sh .ci/package/deb $(PACKAGE)/plain/ridgetally $(PACKAGE_OUT)

release: package-programs
	+@sh .ci/package/release $(PACKAGE)/plain/release $(PACKAGE_OUT)

check-reproducible:
	@DEPS=$(DEPS) sh .ci/deps package
	@sh .ci/package/check-reproducible $(BUILD)/reproducible

# FRESH=readme or FRESH=packages for one half.
FRESH ?= readme packages
check-fresh: $(if $(filter packages,$(FRESH)),deb release)
	@DEPS=$(DEPS) sh .ci/deps fresh
	@sh .ci/package/check-fresh $(BUILD)/fresh $(PACKAGE_OUT) $(FRESH)
