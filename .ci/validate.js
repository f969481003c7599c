// Judges glTF files with the validator of the npm registry: node validate.js FILE...
const { validateBytes } = require(process.env.MIEN_GLTF_VALIDATOR);
const { readFileSync } = require('fs');

(async () => {
  let errors = 0;
  for (const file of process.argv.slice(2)) {
    const { issues } = await validateBytes(new Uint8Array(readFileSync(file)));
    if (issues.numErrors > 0) {
      errors += issues.numErrors;
      console.log(file, issues.numErrors, 'errors', JSON.stringify(issues.messages.slice(0, 3)));
    }
  }
  console.log(`${process.argv.length - 2} glTF files, ${errors} errors`);
  process.exit(errors > 0 || process.argv.length < 3 ? 1 : 0);
})();
